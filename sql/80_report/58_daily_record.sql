-- table: report.daily_record
-- grain: one kind of entry of one day at a site, its beer by column and consignee, or its material
-- key: date, site, item, entry, form_column, account
-- units: quantity in unit
-- reads: excise.operation_entries, excise.operation_lines, record.receipts, record.uses, record.materials
-- rule: X9
-- source: 27 CFR 25.292(a), items (1) to (17); cereal beverage removed is item (7)

create table report.daily_record (
    month text not null,
    date date not null,
    site text not null,
    item bigint not null,
    entry text not null,
    form_column text,
    account text,               -- the consignee, or whom it came from
    quantity decimal(18,6) not null,
    unit text not null
);

insert into report.daily_record by name
with
-- Where each line of the statement of operations stands in the regulation's list of what to record daily. Line 6 and line
-- 22, 23 are one movement seen from both sides, as are 9 and 25, 10 and 26: one side of each is shown.
items as (
    select * from (values
        (2, 2), (3, 2), (23, 3), (22, 4), (10, 5), (9, 6), (14, 8), (15, 8), (16, 9), (17, 9), (18, 9), (19, 9), (20, 9),
        (29, 9), (27, 10), (21, 11), (7, 12), (8, 13), (28, 14), (5, 15), (30, 16), (11, 16), (31, 16), (12, 14), (32, 14)
    ) as items(form_line, item)
)
select month_of(entries.date) as month, entries.date, entries.site,
    case when entries.tax_class = 'cereal_beverage' and items.item in (8, 9) then 7 else items.item end as item,
    case when entries.tax_class = 'cereal_beverage' then 'cereal beverage: ' else '' end || lines.text as entry,
    entries.form_column, entries.account, sum(entries.bbl) as quantity, 'bbl' as unit
from excise.operation_entries as entries
join items on items.form_line = entries.form_line
join excise.operation_lines as lines on lines.form_line = entries.form_line
group by all
union all by name
select month_of(receipts.date) as month, receipts.date, receipts.site, 1 as item,
    'material received: ' || receipts.material as entry, sum(receipts.stock_qty) as quantity, materials.stock_unit as unit
from record.receipts as receipts
join record.materials as materials on materials.material = receipts.material
where materials.kind in ('malt', 'adjunct', 'sugar', 'hops', 'flavouring')
group by all
union all by name
select month_of(uses.date) as month, uses.date, uses.site, case when uses.account is null then 1 else 17 end as item,
    case when uses.account is null then 'material used: ' else 'material sold or given away: ' end || uses.material as entry,
    sum(uses.stock_qty) as quantity, materials.stock_unit as unit
from record.uses as uses
join record.materials as materials on materials.material = uses.material
where materials.kind in ('malt', 'adjunct', 'sugar', 'hops', 'flavouring')
group by all;
