-- table: report.beer_costs
-- grain: one beer packaged in one month
-- key: month, beer
-- units: bbl, the books' currency; before_per_bbl is that of the latest earlier month that packaged the beer
-- reads: result.run_costs
-- rule: C10
-- source: none; presentation

create table report.beer_costs (
    month text not null,
    beer text not null,
    style text,
    good_bbl decimal(18,6),
    total_cost decimal(18,6),
    ingredients_per_bbl decimal(18,6),
    packaging_per_bbl decimal(18,6),
    labour_per_bbl decimal(18,6),
    overhead_per_bbl decimal(18,6),
    cost_per_bbl decimal(18,6),
    before_per_bbl decimal(18,6),
    change_per_bbl decimal(18,6),
    primary key (month, beer)
);

insert into report.beer_costs by name
with beers as (
    select
        month,
        coalesce(beer, 'not stated') as beer,
        any_value(style) as style,
        sum(good_bbl) as good_bbl,
        sum(total_cost) as total_cost,
        per_sum(ingredients, good_bbl) as ingredients_per_bbl,
        per_sum(packaging, good_bbl) as packaging_per_bbl,
        per_sum(labour, good_bbl) as labour_per_bbl,
        per_sum(overhead, good_bbl) as overhead_per_bbl,
        per_sum(total_cost, good_bbl) as cost_per_bbl
    from result.run_costs
    group by month, coalesce(beer, 'not stated')
)
select
    *,
    lag(cost_per_bbl) over months_of_beer as before_per_bbl,
    cost_per_bbl - lag(cost_per_bbl) over months_of_beer as change_per_bbl
from beers
window months_of_beer as (partition by beer order by month);
