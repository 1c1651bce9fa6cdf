-- table: record.brews
-- grain: one brew
-- key: brew
-- units: volumes in bbl, gravity in degrees Plato, temperature in degrees Celsius
-- reads: given_brews, reference.units
-- rule: U1, U3
-- source: kinds.toml; SG to Plato by the NBS Circular 440 cubic

-- end_of_boil_bbl and strike_bbl are as read; rule U2 brings them to 20 degrees later.
create table record.brews (
    file text not null,
    sheet text,
    row bigint not null,
    brew text not null,
    date date not null,
    site text not null,
    beer text not null,
    lot text not null,
    vessel text,
    strike_bbl decimal(18,6),
    strike_temp_c decimal(18,6),
    kettle_full_bbl decimal(18,6),
    end_of_boil_bbl decimal(18,6),
    kettle_temp_c decimal(18,6),
    into_fermenter_bbl decimal(18,6) not null,
    kettle_plato decimal(18,6),
    original_plato decimal(18,6)
);

insert into record.brews by name
select
    given.file,
    given.sheet,
    given.row,
    given.brew,
    given.date,
    given.site,
    given.beer,
    given.lot,
    given.vessel,
    convert6(given.strike_volume, strike_units.numerator, strike_units.denominator) as strike_bbl,
    as_celsius(given.strike_temp, given.temp_unit) as strike_temp_c,
    convert6(given.kettle_full, units.numerator, units.denominator) as kettle_full_bbl,
    convert6(given.end_of_boil, units.numerator, units.denominator) as end_of_boil_bbl,
    as_celsius(given.kettle_temp, given.temp_unit) as kettle_temp_c,
    convert6(given.into_fermenter, units.numerator, units.denominator) as into_fermenter_bbl,
    as_plato(given.kettle_gravity, given.gravity_unit) as kettle_plato,
    as_plato(given.original_gravity, given.gravity_unit) as original_plato
from given_brews as given
left join reference.units as units on units.unit = given.volume_unit
left join reference.units as strike_units on strike_units.unit = given.strike_unit
where given.accepted;
