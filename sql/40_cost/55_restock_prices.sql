-- table: cost.restock_prices
-- grain: one beer and package at one site, from one month on
-- key: site, beer, package, from_month
-- units: money per package
-- reads: cost.run_costs, record.opening_goods
-- rule: C11
-- source: the average cost as packaged in the latest month that packaged any, that month whole; none: the opening's

create table cost.restock_prices (
    site text not null,
    beer text not null,
    package text not null,
    from_month text not null,
    unit_cost decimal(28,10) not null
);

insert into cost.restock_prices by name
select site, beer, package, month as from_month, divide10(sum(total_cost), sum(filled)) as unit_cost
from cost.run_costs
where filled > 0 and beer is not null
group by site, beer, package, month
union all by name
select site, beer, package, '' as from_month, divide10(sum(cost), sum(units)) as unit_cost
from record.opening_goods
where units > 0
group by site, beer, package;
