-- table: result.lot_flows
-- grain: one flow of beer into or out of a lot
-- key: site, lot, direction, record
-- units: bbl, packages
-- reads: volume.inflows, volume.draws, volume.moves, volume.run_lines, volume.lots
-- rule: V2, V4
-- source: records; the readings of a flow in result.chain_readings begin with its record

create table result.lot_flows (
    month text not null,
    date date not null,
    site text not null,
    lot text not null,
    direction text not null,
    record text not null,
    reason text not null,
    other_lot text,
    other_vessel text,
    package text,
    filled bigint,
    rejected bigint,
    volume_bbl decimal(18,6) not null
);

insert into result.lot_flows by name
select month_of(inflows.date) as month, inflows.date, inflows.site, inflows.lot, 'in' as direction,
    case inflows.source when 'brew' then 'brew ' || inflows.name when 'move' then 'move ' || inflows.name
        when 'opening' then 'opening volume' else inflows.source || ', ' || inflows.name end as record,
    inflows.source as reason, inflows.from_lot as other_lot, from_lots.vessel as other_vessel, inflows.volume_bbl
from volume.inflows
left join volume.lots as from_lots on from_lots.site = inflows.site and from_lots.lot = inflows.from_lot
union all by name
select month_of(draws.date) as month, draws.date, draws.site, draws.lot, 'out' as direction,
    case draws.kind when 'move' then 'move ' || draws.name else 'run ' || draws.name || ' line ' || draws.line end as record,
    draws.reason, moves.to_lot as other_lot, to_lots.vessel as other_vessel, run_lines.package, run_lines.filled,
    run_lines.rejected, draws.volume_bbl
from volume.draws
left join volume.moves on draws.kind = 'move' and moves.move = draws.name
left join volume.lots as to_lots on to_lots.site = draws.site and to_lots.lot = moves.to_lot
left join volume.run_lines on draws.kind = 'run' and run_lines.run = draws.name and run_lines.line = draws.line;
