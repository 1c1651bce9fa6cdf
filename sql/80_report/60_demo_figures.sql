-- table: report.demo_figures
-- grain: one figure worth knowing of the whole books
-- key: place
-- units: as each says
-- reads: result.stage_losses, result.run_costs, result.margins, result.duty_months, result.books
-- rule: none
-- source: presentation only

create table report.demo_figures (
    place bigint primary key,
    heading text not null,
    value decimal(18,6) not null,
    unit text not null
);

insert into report.demo_figures by name
with
packaged as (
    select coalesce(sum(good_bbl), 0) as bbl, coalesce(sum(total_cost), 0) as cost from result.run_costs
),
lost as (
    select coalesce(sum(loss_bbl), 0) as bbl,
        coalesce(sum(volume_in_bbl) filter (where stage = 'kettle'), 0) as kettle_bbl
    from result.stage_losses
    where loss_bbl is not null
)
select 1 as place, 'packaged' as heading, bbl as value, 'bbl' as unit from packaged
union all
select 2, 'cost of a packaged barrel', divide6(packaged.cost, packaged.bbl), books.currency
from packaged
cross join result.books
where packaged.bbl > 0
union all
select 3, 'lost between kettle and package', part6(100, bbl, kettle_bbl), '% of what left the kettle'
from lost
where kettle_bbl > 0
union all
select 4, 'margin before idle capacity and other period expenses',
    coalesce((select sum(margin) from result.margins), 0), currency
from result.books
union all
select 5, 'duty accrued', coalesce((select sum(amount) from result.duty_months), 0), currency
from result.books;
