-- table: record.vessel_scale
-- grain: one mark on a vessel's gauge
-- key: site, vessel, mark
-- units: volume in bbl up to the mark
-- reads: given_vessel_scale, reference.units
-- rule: U1
-- source: kinds.toml

-- Volumes written as marks were read off it when the records were loaded; it stands here to be shown.
create table record.vessel_scale (
    file text not null,
    sheet text,
    row bigint not null,
    vessel text not null,
    site text not null,
    mark decimal(18,6) not null,
    volume_bbl decimal(18,6) not null
);

insert into record.vessel_scale by name
select
    given.file,
    given.sheet,
    given.row,
    given.vessel,
    given.site,
    given.mark,
    convert6(given.volume, units.numerator, units.denominator) as volume_bbl
from given_vessel_scale as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
