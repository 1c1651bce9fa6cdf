-- table: report.cost_of_goods_sold
-- grain: one beer and package of one month
-- key: month, beer, package
-- units: packages, bbl, the books' currency
-- reads: result.margins
-- rule: C11, C11a, M2
-- source: none; presentation

create table report.cost_of_goods_sold (
    month text not null,
    beer text not null,
    style text,
    package text not null,
    units decimal(18,6),
    bbl decimal(18,6),
    own_location_cost decimal(18,6),
    other_cost decimal(18,6),
    cost_of_goods_sold decimal(18,6),
    cost_per_package decimal(18,6),
    cost_per_bbl decimal(18,6)
);

insert into report.cost_of_goods_sold by name
select
    month,
    coalesce(beer, 'not stated') as beer,
    any_value(style) as style,
    coalesce(package, 'bulk') as package,
    sum(units) as units,
    sum(bbl) as bbl,
    coalesce(sum(cost_of_goods_sold) filter (where account_kind = 'own_location'), 0) as own_location_cost,
    coalesce(sum(cost_of_goods_sold) filter (where account_kind is distinct from 'own_location'), 0) as other_cost,
    sum(cost_of_goods_sold) as cost_of_goods_sold,
    per_sum(cost_of_goods_sold, units) as cost_per_package,
    per_sum(cost_of_goods_sold, bbl) as cost_per_bbl
from result.margins
group by month, coalesce(beer, 'not stated'), coalesce(package, 'bulk');
