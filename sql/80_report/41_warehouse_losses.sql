-- table: report.warehouse_losses
-- grain: one month: packaged beer that a count did not find, and beer destroyed in the warehouse
-- key: month
-- units: bbl, the books' currency
-- reads: result.goods_months, result.removals
-- rule: V5
-- source: none; presentation

create table report.warehouse_losses (
    month text primary key,
    volume_in_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    loss_cost decimal(18,6) not null
);

insert into report.warehouse_losses by name
with stocked as (
    select
        month,
        sum(opening_bbl + correction_bbl + packaged_bbl + received_bbl + restocked_bbl) as volume_in_bbl,
        -sum(counted_bbl) as short_bbl,
        -sum(counted_cost) as short_cost
    from result.goods_months
    group by month
),
destroyed as (
    select month, sum(bbl) as destroyed_bbl, sum(cost) as destroyed_cost
    from result.removals
    where purpose = 'destroyed'
    group by month
)
select
    stocked.month,
    stocked.volume_in_bbl,
    stocked.short_bbl + coalesce(destroyed.destroyed_bbl, 0) as loss_bbl,
    stocked.short_cost + coalesce(destroyed.destroyed_cost, 0) as loss_cost
from stocked
left join destroyed on destroyed.month = stocked.month;
