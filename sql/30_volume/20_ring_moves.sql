-- table: volume.ring_moves
-- grain: one move that feeds a lot which, on the same day, feeds the lot it came from
-- key: move
-- units: none
-- reads: record.moves
-- rule: C12
-- source: a cost that feeds itself has no value

create table volume.ring_moves (
    move text primary key,
    ring text not null
);

insert into volume.ring_moves by name
with recursive
fed as (
    select move, date, site, from_lot, to_lot
    from record.moves
    where to_lot is not null and reason <> 'empty'
),
-- Every lot that a move's beer can reach on its day; `union` drops what was reached before, so a ring ends.
reached as (
    select move, date, site, from_lot, to_lot as lot from fed
    union
    select reached.move, reached.date, reached.site, reached.from_lot, fed.to_lot
    from reached
    join fed on fed.date = reached.date and fed.site = reached.site and fed.from_lot = reached.lot
)
select
    reached.move,
    string_agg(distinct on_the_way.lot, ', ' order by on_the_way.lot) as ring
from reached
join reached as on_the_way on on_the_way.move = reached.move
where reached.lot = reached.from_lot
group by reached.move;
