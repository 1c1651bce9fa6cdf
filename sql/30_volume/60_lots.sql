-- table: volume.lots
-- grain: one lot: one filling of a fermenter or bright tank
-- key: site, lot
-- units: bbl; allowed loss in % of the volume in, and bbl for each lb of hops put into the lot
-- reads: volume.inflows, volume.moves, record.packaging, volume.lot_ends, volume.allowances, record.vessels,
--   record.beers, record.set_aside_lots, reference.reading_tolerance
-- rule: V2, V6, V7
-- source: the lot's beer and tank are those of its first inflow (by date, brews before moves, then name); the allowance
--   is that of the month in which it was begun, so that it stays one figure for the lot's whole life

create table volume.lots (
    site text not null,
    lot text not null,
    beer text,
    style text,
    stage text not null,
    vessel text,
    working_volume_bbl decimal(18,6),
    tolerance_bbl decimal(18,6) not null,
    allowed_pct decimal(18,6) not null,
    hop_bbl_per_lb decimal(18,6) not null,
    opened_on date not null,
    emptied_on date
);

insert into volume.lots by name
with recursive
-- A lot that is only drawn from (its filling was set aside) still has to be followed.
named as (
    select site, lot, date, 9 as source_order, '' as name, null as from_lot, null as beer, null as vessel,
        null as source
    from record.packaging
    union all by name
    select site, from_lot as lot, date, 9 as source_order, '' as name
    from volume.moves
),
first_inflow as (
    select * exclude (date), min(date) over (partition by site, lot) as opened_on
    from (
        select site, lot, date, source, source_order, name, from_lot, beer, vessel from volume.inflows
        union all by name
        select * from named
    )
    qualify row_number() over (
        partition by site, lot order by source_order = 9, date, source_order, name
    ) = 1
),
-- A move without a beer of its own carries on the beer of the lot it comes from.
with_beer as (
    select first_inflow.site, first_inflow.lot,
        coalesce(first_inflow.beer, set_aside_lots.beer) as beer
    from first_inflow
    left join record.set_aside_lots using (site, lot)
    where coalesce(first_inflow.beer, set_aside_lots.beer) is not null
    union all
    select first_inflow.site, first_inflow.lot, with_beer.beer
    from with_beer
    join first_inflow on first_inflow.site = with_beer.site and first_inflow.from_lot = with_beer.lot
        and first_inflow.beer is null
    left join record.set_aside_lots on set_aside_lots.site = first_inflow.site
        and set_aside_lots.lot = first_inflow.lot
    where set_aside_lots.beer is null
),
with_tank as (
    select
        first_inflow.site,
        first_inflow.lot,
        first_inflow.opened_on,
        vessels.vessel,
        vessels.working_volume_bbl,
        vessels.reading_tolerance_bbl,
        case
            when vessels.kind = 'bright_tank' then 'bright_tank'
            when vessels.kind is not null then 'fermenter'
            when first_inflow.source in ('opening', 'brew') then 'fermenter'
            else 'bright_tank'
        end as stage
    from first_inflow
    left join record.set_aside_lots using (site, lot)
    left join record.vessels on vessels.site = first_inflow.site
        and vessels.vessel = coalesce(first_inflow.vessel, set_aside_lots.vessel)
)
select
    with_tank.site,
    with_tank.lot,
    coalesce(with_beer.beer, 'beer not known') as beer,
    beers.style,
    with_tank.stage,
    with_tank.vessel,
    with_tank.working_volume_bbl,
    coalesce(with_tank.reading_tolerance_bbl, reading_tolerance.tolerance_bbl) as tolerance_bbl,
    allowances.allowed_pct,
    allowances.hop_bbl_per_lb,
    with_tank.opened_on,
    lot_ends.emptied_on
from with_tank
left join with_beer using (site, lot)
left join record.beers using (beer)
join reference.reading_tolerance on reading_tolerance.stage = with_tank.stage
join volume.allowances on allowances.beer is not distinct from beers.beer
    and allowances.stage = with_tank.stage and allowances.month = month_of(with_tank.opened_on)
left join volume.lot_ends on lot_ends.site = with_tank.site and lot_ends.lot = with_tank.lot;
