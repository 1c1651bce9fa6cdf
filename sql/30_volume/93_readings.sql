-- table: volume.readings
-- grain: one reading of a lot that still held beer
-- key: file, sheet, row
-- units: bbl, degrees Plato. after_draws: taken when the day's beer had left; null where none left that day, or no volume was read
-- reads: record.readings, volume.left_out, volume.inflows, volume.draws
-- rule: V10
-- source: none. The paper does not say whether a dip was taken before or after the day's beer left; it is held for the one that
--   the book fits better

create table volume.readings (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    lot text not null,
    volume_bbl decimal(18,6),
    plato decimal(18,6),
    after_draws boolean
);

insert into volume.readings by name
with
kept as (
    select readings.*
    from record.readings
    anti join (select * from volume.left_out where kind = 'readings') as left_out
        on left_out.file = readings.file and left_out.sheet is not distinct from readings.sheet
        and left_out.row = readings.row
),
flows as (
    select site, lot, date, volume_bbl, 0 as drawn_bbl from volume.inflows
    union all by name
    select site, lot, date, -volume_bbl as volume_bbl, volume_bbl as drawn_bbl from volume.draws
),
days as (
    select site, lot, date, sum(volume_bbl) as day_bbl, sum(drawn_bbl) as drawn_bbl
    from flows
    group by site, lot, date
),
books as (
    select site, lot, date, drawn_bbl,
        sum(day_bbl) over (partition by site, lot order by date) as after_bbl
    from days
)
select kept.*,
    case when kept.volume_bbl is not null and books.drawn_bbl > 0
        then abs(kept.volume_bbl - books.after_bbl) < abs(kept.volume_bbl - books.after_bbl - books.drawn_bbl)
    end as after_draws
from kept
left join books on books.site = kept.site and books.lot = kept.lot and books.date = kept.date;
