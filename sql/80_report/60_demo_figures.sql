-- table: report.demo_figures
-- grain: one figure worth knowing of the whole books
-- key: place
-- units: as each says
-- reads: result.stage_losses, result.run_costs, result.margins, result.period_expenses, result.duty_months, result.books
-- rule: none
-- source: presentation only

create table report.demo_figures (
    place bigint primary key,
    heading text not null,
    value decimal(18,6) not null,
    unit text not null
);

insert into report.demo_figures by name
select 1 as place, 'packaged' as heading, coalesce(sum(good_bbl), 0) as value, 'bbl' as unit from result.run_costs
union all
select 2, 'cost of a packaged barrel', divide6(sum(total_cost), sum(good_bbl)), any_value(currency)
from result.run_costs
cross join result.books
having sum(good_bbl) > 0
union all
select 3, 'lost between kettle and package', divide6(100 * sum(loss_bbl)::double,
    sum(volume_in_bbl) filter (where stage = 'kettle')), '% of what left the kettle'
from result.stage_losses
where loss_bbl is not null
having sum(volume_in_bbl) filter (where stage = 'kettle') > 0
union all
select 4, 'margin before idle capacity and other period expenses', coalesce(sum(margin), 0), any_value(currency)
from result.margins
cross join result.books
union all
select 5, 'duty accrued', coalesce(sum(amount), 0), any_value(currency)
from result.duty_months
cross join result.books;
