-- table: result.margins
-- grain: one beer, package and account in a month
-- key: month, beer, style, package, account, account_kind, area
-- units: packages, bbl, money
-- reads: result.margin_lines
-- rule: M1, M2
-- source: margin = revenue - cost of goods sold - duty - freight

create table result.margins (
    month text not null,
    beer text,
    style text,
    package text,
    account text,
    account_kind text,
    area text,
    units decimal(18,6) not null,
    bbl decimal(18,6) not null,
    revenue decimal(18,6),
    cost_of_goods_sold decimal(18,6) not null,
    duty decimal(18,6) not null,
    freight decimal(18,6) not null,
    margin decimal(18,6)
);

insert into result.margins by name
with
summed as (
    select
        month, beer, style, package, account, account_kind, area,
        sum(units) as units,
        sum(bbl) as bbl,
        case when count(revenue) = count(*) then sum(revenue) end as revenue,
        sum(cost_of_goods_sold) as cost_of_goods_sold,
        sum(duty) as duty,
        sum(freight) as freight
    from result.margin_lines
    group by all
)
select *, revenue - cost_of_goods_sold - duty - freight as margin
from summed
where units <> 0 or bbl <> 0 or revenue is null or revenue <> 0 or cost_of_goods_sold <> 0 or duty <> 0
    or freight <> 0;
