-- table: report.warehouse_losses
-- grain: one month: packaged beer that counts did not find, beer destroyed in the warehouse, and what counts found over
-- key: month
-- units: bbl, the books' currency
-- reads: result.goods_months, result.removals
-- rule: V5
-- source: loss = short + destroyed. A keg found is no smaller loss of another beer, so it stands beside; several counts of one
--   beer and package at a site within the month are one figure

create table report.warehouse_losses (
    month text primary key,
    volume_in_bbl decimal(18,6) not null,
    short_bbl decimal(18,6) not null,
    short_cost decimal(18,6) not null,
    destroyed_bbl decimal(18,6) not null,
    destroyed_cost decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    loss_cost decimal(18,6) not null,
    found_bbl decimal(18,6) not null,
    found_cost decimal(18,6) not null
);

insert into report.warehouse_losses by name
with stocked as (
    select
        month,
        sum(opening_bbl + correction_bbl + packaged_bbl + received_bbl + restocked_bbl) as volume_in_bbl,
        -coalesce(sum(counted_bbl) filter (where counted_units <= 0), 0) as short_bbl,
        -coalesce(sum(counted_cost) filter (where counted_units <= 0), 0) as short_cost,
        coalesce(sum(counted_bbl) filter (where counted_units > 0), 0) as found_bbl,
        coalesce(sum(counted_cost) filter (where counted_units > 0), 0) as found_cost
    from result.goods_months
    group by month
),
destroyed as (
    select month, sum(bbl) as destroyed_bbl, sum(cost) as destroyed_cost
    from result.removals
    where purpose = 'destroyed'
    group by month
),
parts as (
    select stocked.*, coalesce(destroyed.destroyed_bbl, 0) as destroyed_bbl,
        coalesce(destroyed.destroyed_cost, 0) as destroyed_cost
    from stocked
    left join destroyed using (month)
)
select *, short_bbl + destroyed_bbl as loss_bbl, short_cost + destroyed_cost as loss_cost
from parts
where short_cost <> 0 or short_bbl <> 0 or destroyed_bbl <> 0 or destroyed_cost <> 0 or found_bbl <> 0 or found_cost <> 0;
