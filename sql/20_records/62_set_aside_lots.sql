-- table: record.set_aside_lots
-- grain: one lot that only rows set aside bring into the books
-- key: lot
-- units: none
-- reads: given_opening_lots, given_brews, given_beer_in, given_moves, record.lot_beers
-- rule: none
-- source: kinds.toml

-- So that later rows naming the lot can still be followed. A move carries on the beer of the lot it leaves.
create table record.set_aside_lots (
    lot text primary key,
    site text,
    beer text,
    vessel text
);

insert into record.set_aside_lots by name
with named as (
    select 0 as place, accepted, file, sheet, row, lot, site, beer, vessel from given_opening_lots
    union all
    select 1, accepted, file, sheet, row, lot, site, beer, vessel from given_brews
    union all
    select 2, accepted, file, sheet, row, lot, site, beer, null from given_beer_in
    union all
    select 3, moves.accepted, moves.file, moves.sheet, moves.row, moves.to_lot, moves.site,
        coalesce(moves.beer, lot_beers.beer), moves.to_vessel
    from given_moves as moves
    left join record.lot_beers on lot_beers.site = moves.site and lot_beers.lot = moves.from_lot
)
select
    lot,
    first(site order by place, file, sheet, row) as site,
    first(beer order by place, file, sheet, row) as beer,
    first(vessel order by place, file, sheet, row) as vessel
from named
where lot is not null
group by lot
having not bool_or(accepted);
