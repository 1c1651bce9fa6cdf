-- table: control.k4_volume
-- grain: one month and site
-- key: month, subject
-- units: bbl
-- reads: volume.inflows, volume.moves, volume.run_lines, volume.stage_losses, result.lot_months
-- rule: K4
-- source: in cellar at the start + into fermenters + received in bulk + liquids added = packaged + losses + samples +
--   destroyed + serving tanks + in cellar at the end

create table control.k4_volume (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k4_volume by name
with
sides as (
    select month, site, opening_bbl + correction_bbl as expected, closing_bbl as actual from result.lot_months
    union all by name
    select month_of(date) as month, site, volume_bbl as expected, 0 as actual
    from volume.inflows
    where source in ('brew', 'received', 'added')
    union all by name
    select month, site, 0 as expected, good_bbl as actual from volume.run_lines
    union all by name
    select month, site, 0 as expected, loss_bbl as actual
    from volume.stage_losses
    where stage <> 'kettle' and loss_bbl is not null
    union all by name
    select month, site, 0 as expected, volume_out_bbl as actual
    from volume.moves
    where to_lot is null
)
select month, 'K4' as control, site || ' · barrels into and out of the cellar' as subject,
    sum(expected) as expected, sum(actual) as actual
from sides
group by month, site;
