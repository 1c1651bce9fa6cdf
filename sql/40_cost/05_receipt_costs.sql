-- table: cost.receipt_costs
-- grain: one receipt
-- key: file, sheet, row
-- units: quantity in the material's stock unit; money
-- reads: record.receipts, record.invoices
-- rule: C1
-- source: an invoice is the final cost of an estimated receipt, and a correction of any other; it falls on the first line of
--   its material in the document

create table cost.receipt_costs (
    file text not null,
    sheet text,
    row bigint not null,
    document text,
    date date not null,
    site text not null,
    material text not null,
    stock_qty decimal(18,6) not null,
    estimated boolean not null,
    own_cost decimal(18,6),         -- with freight; null: estimated at the last unit cost
    invoiced_cost decimal(18,6),    -- null: no invoice
    cost decimal(18,6)
);

insert into cost.receipt_costs by name
with
invoiced as (
    select receipt_document, material, sum(cost + coalesce(freight, 0)) as invoiced_cost
    from record.invoices
    group by receipt_document, material
),
receipts as (
    select
        * exclude (cost, freight),
        cost + freight as own_cost,
        row_number() over (partition by document, material order by file, sheet nulls first, row) = 1 as is_first
    from record.receipts
)
select
    receipts.* exclude (supplier, supplier_lot, is_first),
    invoiced.invoiced_cost,
    case
        when receipts.estimated and invoiced.invoiced_cost is not null then invoiced.invoiced_cost
        else receipts.own_cost + coalesce(invoiced.invoiced_cost, 0)
    end as cost
from receipts
left join invoiced on receipts.is_first and invoiced.receipt_document = receipts.document
    and invoiced.material = receipts.material;
