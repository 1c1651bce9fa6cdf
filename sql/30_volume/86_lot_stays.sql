-- table: volume.lot_stays
-- grain: one lot; or, where beer that left a lot comes back to it, one part of its life between two such days
-- key: site, lot, from_day (stay is its number)
-- units: none
-- reads: volume.lots, volume.moves
-- rule: V8a
-- source: the share of an inflow is that of the lot's whole life; where beer comes back that would feed on itself, so there
--   the life is cut on the day it comes back: what is in hand is carried into the next part, and nothing flows in a ring

create table volume.lot_stays (
    stay bigint primary key,
    site text not null,
    lot text not null,
    from_day date not null,
    next_day date,
    next_stay bigint
);

insert into volume.lot_stays by name
with recursive
fed as (
    select distinct site, from_lot, to_lot
    from volume.moves
    where to_lot is not null
),
-- Every lot that a lot's beer can reach; `union` drops what was reached before, so a ring ends.
reached as (
    select site, from_lot, to_lot as lot from fed
    union
    select reached.site, reached.from_lot, fed.to_lot
    from reached
    join fed on fed.site = reached.site and fed.from_lot = reached.lot
),
cuts as (
    select site, lot, opened_on as from_day from volume.lots
    union
    select moves.site, moves.to_lot, moves.date
    from volume.moves
    join reached on reached.site = moves.site and reached.from_lot = moves.to_lot and reached.lot = moves.from_lot
),
numbered as (
    select row_number() over (order by site, lot, from_day) as stay, site, lot, from_day
    from cuts
)
select
    stay, site, lot, from_day,
    lead(from_day) over in_order as next_day,
    lead(stay) over in_order as next_stay
from numbered
window in_order as (partition by site, lot order by from_day);
