-- table: cost.drivers
-- grain: one brew, lot or run line and one driver in a month: how much of the driver it used
-- key: month, site, stage, driver, brew, lot, run, line
-- units: the driver's: brews, bbl, lb, days, bbl-days, packages, hours
-- reads: volume.brews, volume.lot_months, volume.lots, volume.run_lines, cost.charges, record.materials
-- rule: C3
-- source: calculation rule C3

create table cost.drivers (
    month text not null,
    site text not null,
    stage text not null,
    driver text not null,
    brew text,
    lot text,
    run text,
    line bigint,
    beer text,
    package text,
    form text,
    vessel_kind text,
    weight decimal(18,6) not null
);

insert into cost.drivers by name
with
grist as (
    select charges.brew, sum(charges.stock_qty::double * materials.lb_per_stock_unit::double) as weight_lb
    from cost.charges
    join record.materials using (material)
    where charges.source = 'use' and charges.charged and charges.brew is not null
        and materials.kind in ('malt', 'adjunct', 'sugar')
    group by charges.brew
),
in_the_brewhouse as (
    select brews.month, brews.site, brews.brew, brews.beer, 1 as brews, brews.volume_out_bbl as bbl_brewed,
        rounded6(coalesce(grist.weight_lb, 0)) as grist_weight
    from volume.brews
    left join grist using (brew)
),
in_the_cellar as (
    select lot_months.month, lot_months.site, lot_months.lot, lots.beer, lots.stage as vessel_kind,
        lot_months.tank_days, lot_months.tank_days * coalesce(lots.working_volume_bbl, 0) as tank_bbl_days
    from volume.lot_months
    join volume.lots using (site, lot)
),
hours as (
    select month, site, stage, brew, lot, run, sum(hours) as hours
    from cost.charges
    where source = 'labour' and charged
    group by all
)
select month, site, 'brewhouse' as stage, 'brews' as driver, brew, beer, brews as weight from in_the_brewhouse
union all by name
select month, site, 'brewhouse' as stage, 'bbl_brewed' as driver, brew, beer, bbl_brewed as weight
from in_the_brewhouse
union all by name
select month, site, 'brewhouse' as stage, 'grist_weight' as driver, brew, beer, grist_weight as weight
from in_the_brewhouse
union all by name
select month, site, 'cellar' as stage, 'tank_days' as driver, lot, beer, vessel_kind, tank_days as weight
from in_the_cellar
union all by name
select month, site, 'cellar' as stage, 'tank_bbl_days' as driver, lot, beer, vessel_kind, tank_bbl_days as weight
from in_the_cellar
union all by name
select month, site, 'packaging' as stage, 'bbl_packaged' as driver, run, line, beer, package, form,
    good_bbl as weight
from volume.run_lines
union all by name
select month, site, 'packaging' as stage, 'packages_filled' as driver, run, line, beer, package, form,
    filled as weight
from volume.run_lines
union all by name
select hours.month, hours.site, hours.stage, 'labour_hours' as driver, hours.brew, hours.lot, hours.run,
    coalesce(brews.beer, lots.beer) as beer, lots.stage as vessel_kind, hours.hours as weight
from hours
left join volume.brews on brews.brew = hours.brew
left join volume.lots on lots.site = hours.site and lots.lot = hours.lot;
