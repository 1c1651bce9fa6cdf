-- table: report.waterfall
-- grain: one step from kettle to keg of all beers together or of one beer
-- key: month, beer, place
-- units: bbl; floor_bbl is what a bar stands on. % of what left the kettle
-- reads: report.chains
-- rule: V8
-- source: none; presentation

create table report.waterfall (
    month text not null,
    beer text not null,
    place bigint not null,
    step text not null,
    floor_bbl decimal(18,6) not null,
    whole_bbl decimal(18,6),
    lost_bbl decimal(18,6),
    gained_bbl decimal(18,6),
    elsewhere_bbl decimal(18,6),
    bbl decimal(18,6) not null,
    pct_of_kettle decimal(18,6),
    half_barrels decimal(18,6) not null,
    primary key (month, beer, place)
);

insert into report.waterfall by name
with
sums as (
    select month, level as beer, kettle_bbl as kettle, kettle_loss_bbl as kettle_loss, fermenter_loss_bbl as fermenter_loss,
        transfer_loss_bbl as transfer_loss, bright_tank_loss_bbl as bright_tank_loss, packaging_loss_bbl as packaging_loss,
        sample_bbl + destroyed_bbl as destroyed, in_cellar_bbl as in_cellar, serving_tank_bbl as serving_tank,
        packaged_bbl as packaged
    from report.chains
    where kind in ('the brewery', 'each beer')
),
steps as (
    select month, beer, kettle, unnest([
        {'place': 1, 'step': 'kettle', 'kind': 'whole', 'bbl': kettle},
        {'place': 2, 'step': 'kettle loss', 'kind': 'loss', 'bbl': kettle_loss},
        {'place': 3, 'step': 'fermenter', 'kind': 'loss', 'bbl': fermenter_loss},
        {'place': 4, 'step': 'transfer', 'kind': 'loss', 'bbl': transfer_loss},
        {'place': 5, 'step': 'bright tank', 'kind': 'loss', 'bbl': bright_tank_loss},
        {'place': 6, 'step': 'packaging', 'kind': 'loss', 'bbl': packaging_loss},
        {'place': 7, 'step': 'samples, dumped', 'kind': 'elsewhere', 'bbl': destroyed},
        {'place': 8, 'step': 'still in cellar', 'kind': 'elsewhere', 'bbl': in_cellar},
        {'place': 9, 'step': 'serving tanks', 'kind': 'elsewhere', 'bbl': serving_tank},
        {'place': 10, 'step': 'packaged', 'kind': 'whole', 'bbl': packaged}
    ], recursive := true)
    from sums
),
fallen as (
    select *,
        kettle - sum(case when kind = 'whole' then 0 else bbl end) over (
            partition by month, beer order by place
        ) as after_bbl
    from steps
)
select month, beer, place, step,
    case when kind = 'whole' then 0 else least(after_bbl, after_bbl + bbl) end as floor_bbl,
    case when kind = 'whole' then bbl end as whole_bbl,
    case when kind = 'loss' and bbl >= 0 then bbl end as lost_bbl,
    case when kind <> 'whole' and bbl < 0 then -bbl end as gained_bbl,
    case when kind = 'elsewhere' and bbl >= 0 then bbl end as elsewhere_bbl,
    bbl, percent(bbl, kettle) as pct_of_kettle, 2 * bbl as half_barrels
from fallen;
