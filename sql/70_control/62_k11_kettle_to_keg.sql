-- table: control.k11_kettle_to_keg
-- grain: one month and site (that of the brews; of what was lost or packaged), and what is compared
-- key: month, subject
-- units: brews; bbl
-- reads: volume.brews, volume.stage_losses, volume.run_lines, volume.moves, result.kettle_to_keg, result.beer_fates
-- rule: K11, V8
-- source: each brew's columns add up with = to the end of its boil; what the sources lost, gave and filled is what the tanks did

create table control.k11_kettle_to_keg (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k11_kettle_to_keg by name
with
sides as (
    select brews.month, brews.site, 'brews that add up from kettle to keg' as what, 1 as expected,
        coalesce((coalesce(kettle_loss_bbl, 0) + fermenter_loss_bbl + transfer_loss_bbl + bright_tank_loss_bbl
            + packaging_loss_bbl + sample_bbl + destroyed_bbl + serving_tank_bbl + packaged_bbl + in_cellar_bbl
            = coalesce(end_of_boil_bbl, brews.volume_out_bbl))::int, 0) as actual
    from volume.brews
    left join result.kettle_to_keg using (brew)
    union all by name
    select month, site, 'barrels lost, by source' as what, loss_bbl as expected, 0 as actual
    from volume.stage_losses
    where stage <> 'kettle' and loss_bbl is not null
    union all by name
    select month, site, 'barrels lost, by source' as what, 0 as expected, bbl as actual
    from result.beer_fates
    where fate in ('fermenter_loss', 'transfer_loss', 'bright_tank_loss', 'packaging_loss')
    union all by name
    select month, site, 'barrels filled and drawn off, by source' as what, good_bbl as expected, 0 as actual
    from volume.run_lines
    union all by name
    select month, site, 'barrels filled and drawn off, by source' as what, volume_out_bbl as expected, 0 as actual
    from volume.moves
    where to_lot is null
    union all by name
    select month, site, 'barrels filled and drawn off, by source' as what, 0 as expected, bbl as actual
    from result.beer_fates
    where fate in ('packaged', 'sample', 'destroyed', 'serving_tank')
)
select month, 'K11' as control, site || ' · ' || what as subject, sum(expected) as expected, sum(actual) as actual
from sides
group by month, site, what;
