-- table: record.lot_beers
-- grain: one lot
-- key: site, lot
-- units: none
-- reads: record.opening_lots, record.brews, record.beer_in, record.moves
-- rule: V6
-- source: calculation rules

-- A lot's beer is its first inflow's: by date, opening lots first, then brews, received beer and moves, each by name. A
-- move without a beer of its own carries the beer of the lot it leaves, so that the search goes on there.
create table record.lot_beers (
    site text not null,
    lot text not null,
    beer text not null,
    primary key (site, lot)
);

insert into record.lot_beers by name
with recursive inflows as (
    select site, lot, null::date as date, 0 as place, lot as name, beer, null::text as from_lot from record.opening_lots
    union all
    select site, lot, date, 1, brew, beer, null from record.brews
    union all
    select site, lot, date, 2, coalesce(document, ''), beer, null from record.beer_in where lot is not null
    union all
    select site, to_lot, date, 3, move, beer, from_lot from record.moves where to_lot is not null
),
firsts as (
    select
        site,
        lot,
        first(beer order by date nulls first, place, name) as beer,
        first(from_lot order by date nulls first, place, name) as from_lot
    from inflows
    group by site, lot
),
search (site, lot, beer, from_lot) as (
    select site, lot, beer, from_lot from firsts
    union
    select search.site, search.lot, firsts.beer, firsts.from_lot
    from search
    inner join firsts
        on firsts.site = search.site and firsts.lot = search.from_lot
    where search.beer is null
)
select site, lot, min(beer) as beer
from search
where beer is not null
group by site, lot;
