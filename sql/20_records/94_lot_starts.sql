-- table: record.lot_starts
-- grain: one lot that something fills
-- key: site, lot
-- units: none
-- reads: given_opening_lots, given_brews, given_moves, given_beer_in, reference.settings
-- rule: V2
-- source: kinds.toml; rows set aside count, for the lot was filled all the same

create table record.lot_starts (
    site text not null,
    lot text not null,
    filled_on date      -- null: the day of a row that fills it is not known
);

insert into record.lot_starts by name
with filled as (
    select site, lot, settings.first_day as date
    from given_opening_lots
    cross join reference.settings
    union all
    select site, lot, date from given_brews
    union all
    select site, to_lot, date from given_moves
    union all
    select site, lot, date from given_beer_in
)
select site, lot, if(bool_and(date is not null), min(date), null) as filled_on
from filled
where site is not null and lot is not null
group by site, lot;
