-- table: volume.inflows
-- grain: one inflow of a lot: its opening balance, a brew, a move, beer received in bulk, liquid added
-- key: site, lot, source, name
-- units: bbl
-- reads: record.opening_lots, volume.brews, volume.moves, record.beer_in, record.uses, volume.left_out
-- rule: V2, V8a, V9a
-- source: records dictionary

create table volume.inflows (
    site text not null,
    lot text not null,
    date date not null,
    source text not null,
    source_order bigint not null,
    name text not null,
    from_lot text,
    volume_bbl decimal(18,6) not null,
    beer text,
    vessel text
);

insert into volume.inflows by name
with
late as (
    select file, sheet, row from volume.left_out where kind in ('beer_in', 'uses')
)
select opening_lots.site, opening_lots.lot, settings.first_day as date, 'opening' as source, 0 as source_order,
    opening_lots.lot as name, opening_lots.volume_bbl, opening_lots.beer, opening_lots.vessel
from record.opening_lots
cross join reference.settings
union all by name
select site, lot, date, 'brew' as source, 1 as source_order, brew as name, volume_out_bbl as volume_bbl, beer, vessel
from volume.brews
union all by name
select site, to_lot as lot, date, 'move' as source, 2 as source_order, move as name, from_lot,
    volume_in_bbl as volume_bbl, beer, to_vessel as vessel
from volume.moves
where to_lot is not null
union all by name
select site, lot, date, 'received' as source, 3 as source_order, place_of(file, sheet, row) as name,
    volume_bbl, beer
from record.beer_in
anti join late
    on late.file = beer_in.file and late.sheet is not distinct from beer_in.sheet and late.row = beer_in.row
where lot is not null
union all by name
select site, lot, date, 'added' as source, 4 as source_order, place_of(file, sheet, row) as name,
    adds_volume_bbl as volume_bbl
from record.uses
anti join late
    on late.file = uses.file and late.sheet is not distinct from uses.sheet and late.row = uses.row
where lot is not null and adds_volume_bbl is not null;
