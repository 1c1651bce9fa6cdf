-- table: record.set_aside_lots
-- grain: one lot that only rows set aside bring into the books
-- key: lot
-- units: none
-- reads: given_opening_lots, given_brews, given_beer_in, given_moves
-- rule: none
-- source: kinds.toml

-- So that later rows naming the lot can still be followed.
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
    select 3, accepted, file, sheet, row, to_lot, site, beer, to_vessel from given_moves
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
