-- table: result.chain_readings
-- grain: one reading of beer on its way from the kettle to the packages
-- key: site, lot, reading (also: number)
-- units: bbl. tolerance_bbl 0: counted, exact. lot: in whose tank it was read; other_lot: where a move's other end is
-- reads: volume.lots, volume.inflows, volume.brews, volume.moves, volume.run_lines, volume.readings, record.vessels
-- rule: V1 to V4, V7
-- source: event_sign is +1 at the near end of a brew, move or run and -1 at its far end; lot_sign +1 what comes into the lot,
--   -1 what leaves it. What was not read at its far end is no reading: such a move has one, which counts for both lots

create table result.chain_readings (
    number bigint not null,
    site text not null,
    lot text not null,
    reading text not null,
    other_lot text,
    beer text,
    vessel text,
    date date,
    seen_at timestamp,          -- within its day: what comes in, a dip before the draws, the draws, a dip after them
    volume_bbl decimal(18,6) not null,
    tolerance_bbl decimal(18,6) not null,
    event text,
    stage text,
    event_sign bigint,
    lot_sign bigint
);

insert into result.chain_readings by name
with
brews as (
    select brews.site, brews.lot, brews.beer, brews.date, 'brew ' || brews.brew as name, brews.measured,
        brews.volume_in_bbl, brews.volume_out_bbl, brews.kettle_tolerance_bbl, coalesce(brews.vessel, lots.vessel) as vessel,
        coalesce(vessels.reading_tolerance_bbl, lots.tolerance_bbl) as tolerance_bbl
    from volume.brews
    join volume.lots using (site, lot)
    left join record.vessels on vessels.site = brews.site and vessels.vessel = brews.vessel
),
moves as (
    select moves.site, moves.from_lot, moves.to_lot, moves.date, 'move ' || moves.move as name, moves.measured,
        moves.volume_out_bbl, moves.volume_in_bbl, from_lots.beer, from_lots.vessel as from_vessel,
        from_lots.tolerance_bbl as from_tolerance, to_lots.vessel as to_vessel, to_lots.tolerance_bbl as to_tolerance
    from volume.moves
    join volume.lots as from_lots on from_lots.site = moves.site and from_lots.lot = moves.from_lot
    left join volume.lots as to_lots on to_lots.site = moves.site and to_lots.lot = moves.to_lot
),
runs as (
    select run_lines.site, run_lines.lot, run_lines.beer, run_lines.date, 'run ' || run || ' line ' || line as name,
        run_lines.measured, run_lines.drawn_bbl, run_lines.good_bbl, lots.vessel, lots.tolerance_bbl
    from volume.run_lines
    join volume.lots using (site, lot)
),
readings as (
    select site, lot, beer, name || ', end of boil' as reading, 'kettle' as vessel, date, volume_in_bbl as volume_bbl,
        kettle_tolerance_bbl as tolerance_bbl,
        name as event, 'kettle' as stage, 1 as event_sign, null as lot_sign
    from brews
    where measured
    union all by name
    select site, lot, beer, name || ', into the fermenter' as reading, vessel, date, volume_out_bbl as volume_bbl,
        tolerance_bbl, case when measured then name end as event, 'kettle' as stage,
        case when measured then -1 end as event_sign, 1 as lot_sign
    from brews
    union all by name
    select site, from_lot as lot, to_lot as other_lot, beer, name || ', out' as reading, from_vessel as vessel, date,
        volume_out_bbl as volume_bbl, from_tolerance as tolerance_bbl,
        case when measured and to_lot is not null then name end as event, 'transfer' as stage,
        case when measured and to_lot is not null then 1 end as event_sign, -1 as lot_sign
    from moves
    union all by name
    select site, to_lot as lot, from_lot as other_lot, beer, name || ', in' as reading, to_vessel as vessel, date,
        volume_in_bbl as volume_bbl, to_tolerance as tolerance_bbl, name as event, 'transfer' as stage,
        -1 as event_sign, 1 as lot_sign
    from moves
    where measured and to_lot is not null
    union all by name
    select site, lot, beer, name || ', drawn' as reading, vessel, date, drawn_bbl as volume_bbl, tolerance_bbl,
        name as event, 'packaging' as stage, 1 as event_sign, -1 as lot_sign
    from runs
    where measured
    union all by name
    select site, lot, beer, name || ', packages' as reading,
        -- What was not drawn by a reading is counted from the packages, rejected ones too, and is what the tank gave.
        if(measured, null, vessel) as vessel, date, if(measured, good_bbl, drawn_bbl) as volume_bbl, 0 as tolerance_bbl,
        case when measured then name end as event, 'packaging' as stage,
        case when measured then -1 end as event_sign, case when not measured then -1 end as lot_sign
    from runs
    union all by name
    select inflows.site, inflows.lot,
        case inflows.source when 'opening' then 'opening volume' else inflows.source || ', ' || inflows.name end as reading,
        lots.vessel, inflows.date, inflows.volume_bbl,
        case when inflows.source = 'added' then 0 else lots.tolerance_bbl end as tolerance_bbl, 1 as lot_sign
    from volume.inflows
    join volume.lots using (site, lot)
    where inflows.source not in ('brew', 'move')
    union all by name
    select readings.site, readings.lot,
        'dip of ' || readings.date || if(coalesce(readings.after_draws, false), ', after the draws', '') as reading,
        any_value(lots.vessel) as vessel, readings.date, avg(readings.volume_bbl)::decimal(18,6) as volume_bbl,
        any_value(lots.tolerance_bbl) as tolerance_bbl, coalesce(readings.after_draws, false) as after_draws
    from volume.readings
    join volume.lots using (site, lot)
    where readings.volume_bbl is not null
    group by all
)
select * exclude (after_draws),
    date + to_hours(
        case when event is null and lot_sign is null then if(after_draws, 18, 6) when lot_sign = -1 then 12 else 0 end
    ) as seen_at,
    row_number() over (order by site, lot, reading) as number
from readings;
