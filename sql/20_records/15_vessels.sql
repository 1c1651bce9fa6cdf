-- table: record.vessels
-- grain: one vessel
-- key: site, vessel
-- units: volumes in bbl
-- reads: given_vessels, reference.units
-- rule: U1
-- source: kinds.toml

create table record.vessels (
    file text not null,
    sheet text,
    row bigint not null,
    vessel text not null,
    site text not null,
    kind text not null,
    working_volume_bbl decimal(18,6) not null,
    reading_tolerance_bbl decimal(18,6)
);

insert into record.vessels by name
select
    given.file,
    given.sheet,
    given.row,
    given.vessel,
    given.site,
    given.kind,
    convert6(given.working_volume, units.numerator, units.denominator) as working_volume_bbl,
    convert6(given.reading_tolerance, units.numerator, units.denominator) as reading_tolerance_bbl
from given_vessels as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
