-- table: report.beer_cost_trend
-- grain: one month that packaged beer
-- key: month
-- units: the books' currency per barrel packaged; idle capacity and abnormal loss are not in the cost, they stand beside it
-- reads: result.run_costs, report.margin_months
-- rule: C3, C6, C10
-- source: none; presentation

create table report.beer_cost_trend (
    month text primary key,
    ingredients_per_bbl decimal(18,6),
    packaging_per_bbl decimal(18,6),
    labour_per_bbl decimal(18,6),
    overhead_per_bbl decimal(18,6),
    cost_per_bbl decimal(18,6),
    idle_per_bbl decimal(18,6),
    abnormal_per_bbl decimal(18,6)
);

insert into report.beer_cost_trend by name
with made as (
    select month, sum(good_bbl) as good_bbl, sum(ingredients) as ingredients, sum(packaging) as packaging,
        sum(labour) as labour, sum(overhead) as overhead, sum(total_cost) as total_cost
    from result.run_costs
    group by month
)
select made.month, per(made.ingredients, made.good_bbl) as ingredients_per_bbl,
    per(made.packaging, made.good_bbl) as packaging_per_bbl, per(made.labour, made.good_bbl) as labour_per_bbl,
    per(made.overhead, made.good_bbl) as overhead_per_bbl, per(made.total_cost, made.good_bbl) as cost_per_bbl,
    per(months.idle_capacity, made.good_bbl) as idle_per_bbl,
    per(months.abnormal_loss, made.good_bbl) as abnormal_per_bbl
from made
join report.margin_months as months using (month);
