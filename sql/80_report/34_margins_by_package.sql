-- table: report.margins_by_package
-- grain: one beer in one package in one month
-- key: month, beer, package
-- units: packages, bbl, the books' currency; pct of revenue
-- reads: report.contributions
-- rule: M1, M2, M3
-- source: none; presentation

create table report.margins_by_package (
    month text not null,
    beer text not null,
    package text not null,
    style text,
    units decimal(18,6),
    bbl decimal(18,6),
    revenue decimal(18,6),
    cost_of_goods_sold decimal(18,6),
    duty decimal(18,6),
    freight decimal(18,6),
    margin decimal(18,6),
    contribution decimal(18,6),
    revenue_per_bbl decimal(18,6),
    cost_per_bbl decimal(18,6),
    margin_per_bbl decimal(18,6),
    contribution_per_bbl decimal(18,6),
    margin_pct decimal(18,6),
    revenue_per_package decimal(18,6),
    cost_per_package decimal(18,6),
    margin_per_package decimal(18,6),
    primary key (month, beer, package)
);

insert into report.margins_by_package by name
select
    month,
    coalesce(beer, 'not stated') as beer,
    coalesce(package, 'bulk') as package,
    any_value(style) as style,
    sum(units) as units,
    sum(bbl) as bbl,
    whole_sum(revenue) as revenue,
    sum(cost_of_goods_sold) as cost_of_goods_sold,
    sum(duty) as duty,
    sum(freight) as freight,
    whole_sum(margin) as margin,
    whole_sum(contribution) as contribution,
    per_whole_sum(revenue, bbl) as revenue_per_bbl,
    per_sum(cost_of_goods_sold, bbl) as cost_per_bbl,
    per_whole_sum(margin, bbl) as margin_per_bbl,
    per_whole_sum(contribution, bbl) as contribution_per_bbl,
    per_whole_sum(revenue, units) as revenue_per_package,
    per_sum(cost_of_goods_sold, units) as cost_per_package,
    per_whole_sum(margin, units) as margin_per_package,
    percent_whole_sum(margin, revenue) as margin_pct
from report.contributions
group by month, coalesce(beer, 'not stated'), coalesce(package, 'bulk');
