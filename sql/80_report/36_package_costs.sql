-- table: report.package_costs
-- grain: one beer in one package, packaged in one month
-- key: month, beer, package
-- units: packages, bbl, the books' currency; before_per_package is that of the latest earlier month that packaged it
-- reads: result.run_costs
-- rule: C10
-- source: none; presentation

create table report.package_costs (
    month text not null,
    beer text not null,
    style text,
    package text not null,
    goods text not null,
    filled decimal(18,6),
    good_bbl decimal(18,6),
    total_cost decimal(18,6),
    ingredients_per_package decimal(18,6),
    packaging_per_package decimal(18,6),
    labour_per_package decimal(18,6),
    overhead_per_package decimal(18,6),
    cost_per_package decimal(18,6),
    before_per_package decimal(18,6),
    cost_per_bbl decimal(18,6),
    primary key (month, beer, package)
);

insert into report.package_costs by name
with packages as (
    select
        month,
        coalesce(beer, 'not stated') as beer,
        any_value(style) as style,
        package,
        sum(filled) as filled,
        sum(good_bbl) as good_bbl,
        sum(total_cost) as total_cost,
        per_sum(ingredients, filled) as ingredients_per_package,
        per_sum(packaging, filled) as packaging_per_package,
        per_sum(labour, filled) as labour_per_package,
        per_sum(overhead, filled) as overhead_per_package,
        per_sum(total_cost, filled) as cost_per_package,
        per_sum(total_cost, good_bbl) as cost_per_bbl
    from result.run_costs
    group by month, coalesce(beer, 'not stated'), package
)
select *, beer || ', ' || package as goods, lag(cost_per_package) over (partition by beer, package order by month) as before_per_package
from packages;
