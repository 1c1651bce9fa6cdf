-- table: report.margins_by_style
-- grain: one style of one month
-- key: month, style
-- units: bbl, the books' currency; pct of revenue
-- reads: report.contributions
-- rule: M1, M2, M3
-- source: none; presentation

create table report.margins_by_style (
    month text not null,
    style text not null,
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
    primary key (month, style)
);

insert into report.margins_by_style by name
select
    month,
    coalesce(style, 'not stated') as style,
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
    percent_whole_sum(margin, revenue) as margin_pct
from report.contributions
group by month, coalesce(style, 'not stated');
