-- table: result.removals
-- grain: one shipment line, return line or serving-tank fill
-- key: none given by the records (a document and line; file, sheet and row lead to it)
-- units: packages, bbl, money; returns are negative
-- reads: excise.removals, excise.removal_duty, cost.shipment_costs, cost.prices, record.shipments, record.returns
-- rule: X1 to X4, M1, M2
-- source: calculation rules M1 and M2

create table result.removals (
    document text not null,
    line bigint not null,
    date date not null,
    month text not null,
    site text not null,
    account text,
    area text,
    beer text,
    style text,
    package text,
    form text,
    purpose text,
    units decimal(18,6),
    bbl decimal(18,6),
    excise_bbl decimal(18,5),
    taxable boolean not null,
    revenue decimal(18,6),
    cost decimal(18,6) not null,
    duty decimal(18,6) not null,
    freight decimal(18,6) not null,
    file text,
    sheet text,
    row bigint
);

insert into result.removals by name
with
duty as (
    select kind, document, line, sum(amount) as duty
    from excise.removal_duty
    group by kind, document, line
)
select
    removals.document, removals.line, removals.date, removals.month, removals.site, removals.account, removals.area,
    removals.beer, removals.style, removals.package, removals.form, removals.purpose, removals.units, removals.bbl,
    removals.excise_bbl, removals.taxable,
    case removals.kind when 'return' then -returns.credit else prices.revenue end as revenue,
    coalesce(shipment_costs.cost, 0) as cost,
    coalesce(duty.duty, 0) as duty,
    coalesce(shipments.freight, 0) as freight,
    removals.file, removals.sheet, removals.row
from excise.removals
left join cost.shipment_costs using (kind, document, line)
left join cost.prices using (kind, document, line)
left join duty using (kind, document, line)
left join record.shipments on removals.kind = 'shipment' and shipments.document = removals.document
    and shipments.line = removals.line
left join record.returns on removals.kind = 'return' and returns.document = removals.document
    and returns.line = removals.line;
