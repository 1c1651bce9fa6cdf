-- table: volume.draws
-- grain: one draw from a lot: a move out or a line of a run
-- key: kind, name, line
-- units: bbl
-- reads: volume.moves, volume.run_lines
-- rule: V2, V10
-- source: records dictionary

create table volume.draws (
    kind text not null,
    name text not null,
    line bigint not null,
    date date not null,
    site text not null,
    lot text not null,
    reason text not null,
    volume_bbl decimal(18,6) not null
);

insert into volume.draws by name
select 'move' as kind, move as name, 0 as line, date, site, from_lot as lot, reason, volume_out_bbl as volume_bbl
from volume.moves
union all by name
select 'run' as kind, run as name, line, date, site, lot, 'packaging' as reason, drawn_bbl as volume_bbl
from volume.run_lines;
