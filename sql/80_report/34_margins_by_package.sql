-- table: report.margins_by_package
-- grain: one beer in one package in one month
-- key: month, beer, package
-- units: packages, bbl, the books' currency; pct of revenue
-- reads: result.margins
-- rule: M1, M2
-- source: none; presentation

create table report.margins_by_package (
    month text not null,
    beer text not null,
    style text,
    package text not null,
    units decimal(18,6),
    bbl decimal(18,6),
    revenue decimal(18,6),
    cost_of_goods_sold decimal(18,6),
    duty decimal(18,6),
    freight decimal(18,6),
    margin decimal(18,6),
    revenue_per_package decimal(18,6),
    cost_per_package decimal(18,6),
    margin_per_package decimal(18,6),
    margin_per_bbl decimal(18,6),
    margin_pct decimal(18,6),
    primary key (month, beer, package)
);

insert into report.margins_by_package by name
select
    month,
    coalesce(beer, 'not stated') as beer,
    any_value(style) as style,
    coalesce(package, 'bulk') as package,
    sum(units) as units,
    sum(bbl) as bbl,
    whole_sum(revenue) as revenue,
    sum(cost_of_goods_sold) as cost_of_goods_sold,
    sum(duty) as duty,
    sum(freight) as freight,
    whole_sum(margin) as margin,
    per_whole_sum(revenue, units) as revenue_per_package,
    per_sum(cost_of_goods_sold, units) as cost_per_package,
    per_whole_sum(margin, units) as margin_per_package,
    per_whole_sum(margin, bbl) as margin_per_bbl,
    percent_whole_sum(margin, revenue) as margin_pct
from result.margins
group by month, coalesce(beer, 'not stated'), coalesce(package, 'bulk');
