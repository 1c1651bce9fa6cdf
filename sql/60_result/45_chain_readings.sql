-- table: result.chain_readings
-- grain: one reading in one balance of one lot's chain, or the usual loss of that balance
-- key: site, lot, balance, reading
-- units: bbl. sign: +1 where the reading goes into the balance, -1 where it comes out. tolerance_bbl 0: counted, exact
-- reads: volume.lots, volume.inflows, volume.draws, volume.brews, volume.moves, volume.run_lines, record.readings,
--   record.vessels, reference.reading_tolerance, result.usual_losses
-- rule: V1 to V4, V7
-- source: what the reconciliation (brewcost/reconciliation.py) is made from: in - out - usual loss = 0, for the kettle, the
--   lot, each transfer, each run line and each dip on the way

create table result.chain_readings (
    site text not null,
    lot text not null,
    balance text not null,
    reading text not null,
    vessel text,
    date date,
    sign bigint not null,
    volume_bbl decimal(18,6) not null,
    tolerance_bbl decimal(18,6) not null
);

insert into result.chain_readings by name
with
kettle_tolerance as (
    select tolerance_bbl from reference.reading_tolerance where stage = 'kettle'
),
kettle_pairs as (
    select brews.site, brews.lot, 'kettle, brew ' || brews.brew as balance, 'kettle' as stage, brews.beer,
        'brew ' || brews.brew || ', end of boil' as in_reading, 'kettle' as in_vessel, brews.date,
        brews.volume_in_bbl as in_bbl, kettle_tolerance.tolerance_bbl as in_tolerance,
        'brew ' || brews.brew || ', into the fermenter' as out_reading, coalesce(brews.vessel, lots.vessel) as out_vessel,
        brews.volume_out_bbl as out_bbl, coalesce(vessels.reading_tolerance_bbl, lots.tolerance_bbl) as out_tolerance
    from volume.brews
    join volume.lots using (site, lot)
    cross join kettle_tolerance
    left join record.vessels on vessels.site = brews.site and vessels.vessel = brews.vessel
    where brews.measured
),
move_pairs as (
    select moves.site, unnest([moves.from_lot, moves.to_lot]) as lot, 'transfer, move ' || moves.move as balance,
        'transfer' as stage, from_lots.beer, 'move ' || moves.move || ', out' as in_reading,
        from_lots.vessel as in_vessel, moves.date, moves.volume_out_bbl as in_bbl,
        from_lots.tolerance_bbl as in_tolerance, 'move ' || moves.move || ', in' as out_reading,
        to_lots.vessel as out_vessel, moves.volume_in_bbl as out_bbl, to_lots.tolerance_bbl as out_tolerance
    from volume.moves
    join volume.lots as from_lots on from_lots.site = moves.site and from_lots.lot = moves.from_lot
    join volume.lots as to_lots on to_lots.site = moves.site and to_lots.lot = moves.to_lot
    where moves.measured
),
run_pairs as (
    select run_lines.site, run_lines.lot, 'packaging, run ' || run || ' line ' || line as balance,
        'packaging' as stage, run_lines.beer, 'run ' || run || ' line ' || line || ', drawn' as in_reading,
        lots.vessel as in_vessel, run_lines.date, run_lines.drawn_bbl as in_bbl, lots.tolerance_bbl as in_tolerance,
        'run ' || run || ' line ' || line || ', packages' as out_reading, null as out_vessel,
        run_lines.good_bbl as out_bbl, 0 as out_tolerance
    from volume.run_lines
    join volume.lots using (site, lot)
    where run_lines.measured
),
pairs as (
    select * from kettle_pairs
    union all by name
    select * from move_pairs
    union all by name
    select * from run_pairs
),
-- What flows into and out of each lot, each under the name it has in its pair.
flows as (
    select inflows.site, inflows.lot, inflows.date, 1 as sign, inflows.volume_bbl, lots.vessel,
        case inflows.source
            when 'brew' then 'brew ' || inflows.name || ', into the fermenter'
            when 'move' then 'move ' || inflows.name || ', in'
            when 'opening' then 'opening volume'
            else inflows.source || ', ' || inflows.name
        end as reading,
        case when inflows.source = 'added' then 0 else lots.tolerance_bbl end as tolerance_bbl,
        lots.beer, lots.stage, lots.emptied_on
    from volume.inflows
    join volume.lots using (site, lot)
    union all by name
    select draws.site, draws.lot, draws.date, -1 as sign, draws.volume_bbl, lots.vessel,
        case draws.kind
            when 'run' then 'run ' || draws.name || ' line ' || draws.line || ', '
                || case when run_lines.measured then 'drawn' else 'packages' end
            else 'move ' || draws.name || ', out'
        end as reading,
        case when run_lines.measured is false then 0 else lots.tolerance_bbl end as tolerance_bbl,
        lots.beer, lots.stage, lots.emptied_on
    from volume.draws
    join volume.lots using (site, lot)
    left join volume.run_lines on draws.kind = 'run' and run_lines.run = draws.name and run_lines.line = draws.line
),
dips as (
    select readings.site, readings.lot, readings.date, avg(readings.volume_bbl)::decimal(18,6) as volume_bbl
    from record.readings
    where readings.volume_bbl is not null
    group by readings.site, readings.lot, readings.date
),
lines as (
    select site, lot, balance, stage, beer, in_reading as reading, in_vessel as vessel, date, 1 as sign,
        in_bbl as volume_bbl, in_tolerance as tolerance_bbl
    from pairs
    union all by name
    select site, lot, balance, stage, beer, out_reading as reading, out_vessel as vessel, date, -1 as sign,
        out_bbl as volume_bbl, out_tolerance as tolerance_bbl
    from pairs
    union all by name
    select site, lot, 'lot' as balance, stage, beer, reading, vessel, date, sign, volume_bbl, tolerance_bbl
    from flows
    where emptied_on is not null
    union all by name
    select dips.site, dips.lot, 'dip of ' || dips.date as balance, 'dip' as stage, flows.beer, flows.reading,
        flows.vessel, flows.date, flows.sign, flows.volume_bbl, flows.tolerance_bbl
    from dips
    join flows on flows.site = dips.site and flows.lot = dips.lot
        and (flows.date < dips.date or flows.date = dips.date and flows.sign = 1)
    union all by name
    select dips.site, dips.lot, 'dip of ' || dips.date as balance, 'dip' as stage, lots.beer,
        'dip of ' || dips.date as reading, lots.vessel, dips.date, -1 as sign, dips.volume_bbl, lots.tolerance_bbl
    from dips
    join volume.lots using (site, lot)
),
wholes as (
    select site, lot, balance, any_value(stage) as stage, any_value(beer) as beer,
        sum(volume_bbl) filter (where sign = 1) as in_bbl
    from lines
    group by site, lot, balance
),
usual as (
    select wholes.*, lots.stage as lot_stage,
        coalesce(own.usual_pct, every.usual_pct, lots.allowed_pct)::double as usual_pct,
        coalesce(own.spread_pct, every.spread_pct, lots.allowed_pct / 2)::double as spread_pct
    from wholes
    join volume.lots using (site, lot)
    left join result.usual_losses as own on own.site = wholes.site and own.beer = wholes.beer
        and own.stage = case when wholes.stage = 'dip' then lots.stage else wholes.stage end
    left join result.usual_losses as every on every.site = wholes.site and every.beer is null
        and every.stage = case when wholes.stage = 'dip' then lots.stage else wholes.stage end
)
select site, lot, balance, reading, vessel, date, sign, volume_bbl, tolerance_bbl
from lines
union all by name
-- On the way anything between none and all of the usual loss has settled: half of it, give or take half.
select site, lot, balance, 'usual loss' as reading, -1 as sign,
    coalesce(in_bbl, 0)::double / 100 * usual_pct * case when stage = 'dip' then 0.5 else 1 end as volume_bbl,
    greatest(coalesce(in_bbl, 0)::double / 100 * case when stage = 'dip' then sqrt(spread_pct ** 2 + usual_pct ** 2 / 4)
        else spread_pct end, 0.01) as tolerance_bbl
from usual;
