-- table: record.readings
-- grain: one reading
-- key: none
-- units: volume in bbl, gravity in degrees Plato
-- reads: given_readings, reference.units
-- rule: U1, U3
-- source: kinds.toml; SG to Plato by the NBS Circular 440 cubic

create table record.readings (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    lot text not null,
    volume_bbl decimal(18,6),
    plato decimal(18,6)
);

insert into record.readings by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.lot,
    convert6(given.volume, units.numerator, units.denominator) as volume_bbl,
    as_plato(given.gravity, given.gravity_unit) as plato
from given_readings as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
