-- table: record.first_vessels
-- grain: one lot
-- key: site, lot
-- units: tolerance in bbl
-- reads: given_opening_lots, given_brews, given_moves, record.vessels, reference.reading_tolerance
-- rule: V2, V7
-- source: calculation rules

-- The tank a lot was first filled into, and how far a reading there may be off.
create table record.first_vessels (
    site text not null,
    lot text not null,
    vessel text,
    tolerance_bbl decimal(18,6) not null,
    primary key (site, lot)
);

insert into record.first_vessels by name
with filled as (
    select lot, site, null::date as date, 0 as place, lot as name, vessel from given_opening_lots
    union all
    select lot, site, date, 1, brew, vessel from given_brews
    union all
    select to_lot, site, date, 2, move, to_vessel from given_moves
),
firsts as (
    select
        site,
        lot,
        first(vessel order by date nulls first, place, name) as vessel,
        first(place order by date nulls first, place, name) as place
    from filled
    where lot is not null and site is not null
    group by site, lot
)
select
    firsts.site,
    firsts.lot,
    firsts.vessel,
    coalesce(vessels.reading_tolerance_bbl, tolerances.tolerance_bbl) as tolerance_bbl
from firsts
left join record.vessels as vessels
    on vessels.site = firsts.site and vessels.vessel = firsts.vessel
inner join reference.reading_tolerance as tolerances
    on tolerances.stage = coalesce(vessels.kind, case when firsts.place < 2 then 'fermenter' else 'bright_tank' end);
