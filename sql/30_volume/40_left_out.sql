-- table: volume.left_out
-- grain: one record of a lot after the day it was emptied, or one that closes a ring
-- key: kind, file, sheet, row
-- units: none
-- reads: record.brews, record.moves, record.packaging, record.beer_in, record.uses, record.readings, record.packages, volume.lot_ends, volume.ring_moves
-- rule: V2, C12
-- source: no beer can come out of an empty tank; the row stays in the records and is reported, and no volume follows it

create table volume.left_out (
    kind text not null,
    code text not null,
    severity text not null,
    date date not null,
    field text not null,
    lot text not null,
    detail text not null,
    file text not null,
    sheet text,
    row bigint not null
);

insert into volume.left_out by name
with
touches as (
    select 'brews' as kind, date, site, lot, 'lot' as field, 'error' as severity, file, sheet, row
    from record.brews
    union all by name
    -- A sample or a dump hands no beer on, so leaving it out is a warning; anything else would take beer with it.
    select 'moves' as kind, date, site, from_lot as lot, 'from_lot' as field,
        case when reason in ('sample', 'destroyed', 'empty') then 'warning' else 'error' end as severity,
        file, sheet, row
    from record.moves
    where move not in (select move from volume.ring_moves)
    union all by name
    select 'moves' as kind, date, site, to_lot as lot, 'to_lot' as field, 'error' as severity, file, sheet, row
    from record.moves
    where to_lot is not null and move not in (select move from volume.ring_moves)
    union all by name
    select 'packaging' as kind, date, site, lot, 'lot' as field, 'error' as severity, file, sheet, row
    from record.packaging
    union all by name
    select 'beer_in' as kind, date, site, lot, 'lot' as field, 'error' as severity, file, sheet, row
    from record.beer_in
    where lot is not null
    union all by name
    select 'uses' as kind, date, site, lot, 'lot' as field, 'error' as severity, file, sheet, row
    from record.uses
    where lot is not null and adds_volume_bbl is not null
    union all by name
    -- What was read in an empty tank is of another beer, and moves no volume.
    select 'readings' as kind, date, site, lot, 'lot' as field, 'warning' as severity, file, sheet, row
    from record.readings
)
select
    touches.kind,
    'lot-emptied' as code,
    touches.severity,
    touches.date,
    touches.field,
    touches.lot,
    'lot ' || touches.lot || ' was emptied on ' || lot_ends.emptied_on as detail,
    touches.file,
    touches.sheet,
    touches.row
from touches
join volume.lot_ends on lot_ends.site = touches.site and lot_ends.lot = touches.lot
    and touches.date > lot_ends.emptied_on
union all by name
select
    'packaging' as kind,
    'package-set-aside' as code,
    'warning' as severity,
    packaging.date,
    'package' as field,
    packaging.package as lot,
    'the record of package ' || packaging.package || ' was set aside, so its volume is not known' as detail,
    packaging.file,
    packaging.sheet,
    packaging.row
from record.packaging
anti join record.packages using (package)
union all by name
select
    'moves' as kind,
    'ring' as code,
    'error' as severity,
    moves.date,
    'to_lot' as field,
    moves.to_lot as lot,
    'the moves of ' || moves.date || ' feed the lots ' || ring_moves.ring || ' in a ring' as detail,
    moves.file,
    moves.sheet,
    moves.row
from volume.ring_moves
join record.moves using (move);
