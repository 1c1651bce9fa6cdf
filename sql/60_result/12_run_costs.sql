-- table: result.run_costs
-- grain: one run, beer and package
-- key: month, site, run, beer, package
-- units: packages, bbl, money
-- reads: cost.run_costs
-- rule: C10
-- source: cost per package = total / filled, cost per barrel = total / good barrels; null where nothing was filled

create table result.run_costs (
    month text not null,
    site text not null,
    run text not null,
    beer text,
    package text not null,
    style text,
    filled bigint not null,
    good_bbl decimal(18,6) not null,
    ingredients decimal(18,6) not null,
    packaging decimal(18,6) not null,
    labour decimal(18,6) not null,
    overhead decimal(18,6) not null,
    total_cost decimal(18,6) not null,
    cost_per_package decimal(28,10),
    cost_per_bbl decimal(28,10)
);

insert into result.run_costs by name
select
    month, site, run, beer, package, any_value(style) as style,
    sum(filled) as filled,
    sum(good_bbl) as good_bbl,
    sum(ingredients) as ingredients,
    sum(packaging) as packaging,
    sum(labour) as labour,
    sum(overhead) as overhead,
    sum(total_cost) as total_cost,
    case when sum(filled) > 0 then divide10(sum(total_cost), sum(filled)) end as cost_per_package,
    case when sum(good_bbl) > 0 then divide10(sum(total_cost), sum(good_bbl)) end as cost_per_bbl
from cost.run_costs
group by month, site, run, beer, package;
