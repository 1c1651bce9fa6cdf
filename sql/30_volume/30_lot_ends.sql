-- table: volume.lot_ends
-- grain: one lot that was emptied
-- key: site, lot
-- units: none
-- reads: record.moves, record.packaging, record.lot_starts, volume.ring_moves
-- rule: V2
-- source: a lot ends on the first day that says it was emptied, whatever the book volume says;
--   none before it was first filled

create table volume.lot_ends (
    site text not null,
    lot text not null,
    emptied_on date not null
);

insert into volume.lot_ends by name
with
said as (
    select site, from_lot as lot, date
    from record.moves
    where (lot_emptied or reason = 'empty') and move not in (select move from volume.ring_moves)
    union all
    select site, lot, date
    from record.packaging
    where lot_emptied
)
select site, lot, min(date) as emptied_on
from said
left join record.lot_starts as starts using (site, lot)
where date >= coalesce(starts.filled_on, date)
group by site, lot;
