-- table: result.counts
-- grain: one count of a material, of goods or of a lot, brought back to the day it stands for
-- key: file, sheet, row
-- units: `unit`; money
-- reads: record.counts, cost.material_moves, cost.goods_moves, record.materials, volume.inflows, volume.draws
-- rule: C1, C11, C16
-- source: at the day = counted - what came in between the day and the count + what went out; difference = that - the book

create table result.counts (
    month text not null,
    date date not null,
    counted_on date not null,
    site text not null,
    what text not null,
    subject text not null,
    unit text not null,
    counted decimal(18,6) not null,
    came_in_since decimal(18,6) not null,
    went_out_since decimal(18,6) not null,
    at_the_day decimal(18,6) not null,
    book decimal(18,6) not null,
    difference decimal(18,6) not null,
    difference_cost decimal(18,6),
    explanation text,
    file text not null,
    sheet text,
    row bigint not null
);

insert into result.counts by name
with
taken as (
    select * exclude (counted_on), coalesce(counted_on, date) as counted_on from record.counts
),
materials as (
    select taken.*, counted.balance_qty, counted.counted_qty, counted.counted_cost,
        coalesce(sum(moved.qty_in), 0) as came_in, coalesce(sum(moved.used_qty), 0) as went_out
    from taken
    join cost.material_moves as counted on counted.kind = 'count' and counted.site = taken.site
        and counted.material = taken.material and counted.file = taken.file
        and counted.sheet is not distinct from taken.sheet and counted.row = taken.row
    left join cost.material_moves as moved on moved.item = counted.item and moved.kind <> 'count'
        and moved.date > taken.date and moved.date <= taken.counted_on
    group by all
),
goods as (
    select taken.*, counted.balance_units, counted.units as counted_units, counted.cost as counted_cost,
        coalesce(sum(greatest(moved.units, 0)), 0) as came_in,
        coalesce(sum(greatest(-moved.units, 0) + moved.short_units), 0) as went_out
    from taken
    join cost.goods_moves as counted on counted.kind = 'count' and counted.site = taken.site
        and counted.beer = taken.beer and counted.package = taken.package and counted.file = taken.file
        and counted.sheet is not distinct from taken.sheet and counted.row = taken.row
    left join cost.goods_moves as moved on moved.item = counted.item and moved.kind <> 'count'
        and moved.date > taken.date and moved.date <= taken.counted_on
    group by all
),
lots as (
    select taken.*,
        coalesce((
            select sum(inflows.volume_bbl) from volume.inflows
            where inflows.site = taken.site and inflows.lot = taken.lot and inflows.date <= taken.date
        ), 0) - coalesce((
            select sum(draws.volume_bbl) from volume.draws
            where draws.site = taken.site and draws.lot = taken.lot and draws.date <= taken.date
        ), 0) as book_bbl,
        coalesce((
            select sum(inflows.volume_bbl) from volume.inflows
            where inflows.site = taken.site and inflows.lot = taken.lot and inflows.date > taken.date
                and inflows.date <= taken.counted_on
        ), 0) as came_in,
        coalesce((
            select sum(draws.volume_bbl) from volume.draws
            where draws.site = taken.site and draws.lot = taken.lot and draws.date > taken.date
                and draws.date <= taken.counted_on
        ), 0) as went_out
    from taken
    where taken.lot is not null
)
select month_of(date) as month, date, counted_on, site, 'material' as what, material as subject,
    materials_record.stock_unit as unit, stock_qty as counted, came_in as came_in_since, went_out as went_out_since,
    balance_qty as at_the_day, balance_qty - counted_qty as book, counted_qty as difference,
    counted_cost as difference_cost, explanation, materials.file, materials.sheet, materials.row
from materials
join (select material as name, stock_unit from record.materials) as materials_record
    on materials_record.name = materials.material
union all by name
select month_of(date) as month, date, counted_on, site, 'goods' as what, beer || ' ' || package as subject,
    'each' as unit, units as counted, came_in as came_in_since, went_out as went_out_since,
    balance_units as at_the_day, balance_units - counted_units as book, counted_units as difference,
    counted_cost as difference_cost, explanation, file, sheet, row
from goods
union all by name
-- A lot's count is compared; it moves nothing, so it has no cost.
select month_of(date) as month, date, counted_on, site, 'lot' as what, lot as subject, 'bbl' as unit,
    volume_bbl as counted, came_in as came_in_since, went_out as went_out_since,
    volume_bbl - came_in + went_out as at_the_day, book_bbl as book,
    volume_bbl - came_in + went_out - book_bbl as difference, null as difference_cost, explanation, file,
    sheet, row
from lots;
