-- table: record.opening_lots
-- grain: one lot at the start of the books
-- key: lot
-- units: volume in bbl
-- reads: given_opening_lots, reference.units
-- rule: C8
-- source: kinds.toml

create table record.opening_lots (
    file text not null,
    sheet text,
    row bigint not null,
    lot text not null,
    site text not null,
    beer text not null,
    vessel text,
    volume_bbl decimal(18,6) not null,
    cost_ingredients decimal(18,6) not null,
    cost_labour decimal(18,6) not null,
    cost_overhead decimal(18,6) not null
);

insert into record.opening_lots by name
select
    given.file,
    given.sheet,
    given.row,
    given.lot,
    given.site,
    given.beer,
    given.vessel,
    convert6(given.volume, units.numerator, units.denominator) as volume_bbl,
    given.cost_ingredients,
    given.cost_labour,
    given.cost_overhead
from given_opening_lots as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
