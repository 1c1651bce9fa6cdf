-- table: volume.moves
-- grain: one move of beer out of a lot; a note that a lot is empty (reason `empty`) is not one
-- key: move
-- units: bbl, money per bbl
-- reads: record.moves, volume.left_out
-- rule: V2, V3
-- source: records dictionary

create table volume.moves (
    move text primary key,
    date date not null,
    month text not null,
    site text not null,
    from_lot text not null,
    to_lot text,
    to_vessel text,
    beer text,
    reason text not null,
    measured boolean not null,
    volume_out_bbl decimal(18,6) not null,
    volume_in_bbl decimal(18,6) not null,
    account text,
    unit_price decimal(18,6)
);

insert into volume.moves by name
select
    moves.move,
    moves.date,
    month_of(moves.date) as month,
    moves.site,
    moves.from_lot,
    moves.to_lot,
    moves.to_vessel,
    moves.beer,
    -- Whatever its reason says, beer that goes on into a lot is transferred; beer that leaves without one is not.
    case
        when moves.to_lot is not null then 'transfer'
        when moves.reason in ('sample', 'destroyed', 'serving_tank') then moves.reason
        else 'destroyed'
    end as reason,
    moves.volume_in_bbl is not null as measured,
    moves.volume_out_bbl,
    coalesce(moves.volume_in_bbl, moves.volume_out_bbl) as volume_in_bbl,
    moves.account,
    moves.unit_price
from record.moves
anti join (select * from volume.left_out where kind = 'moves') as left_out
    on left_out.file = moves.file and left_out.sheet is not distinct from moves.sheet and left_out.row = moves.row
where moves.reason <> 'empty';
