-- table: result.vessels
-- grain: one vessel
-- key: site, vessel
-- units: bbl
-- reads: record.vessels, reference.reading_tolerance
-- rule: V7
-- source: records; the tolerance of brewery.toml where the vessel has none

create table result.vessels (
    vessel text not null,
    site text not null,
    kind text not null,
    working_volume_bbl decimal(18,6) not null,
    tolerance_bbl decimal(18,6),
    primary key (site, vessel)
);

insert into result.vessels by name
select vessels.vessel, vessels.site, vessels.kind, vessels.working_volume_bbl,
    coalesce(vessels.reading_tolerance_bbl, reading_tolerance.tolerance_bbl) as tolerance_bbl
from record.vessels
left join reference.reading_tolerance on reading_tolerance.stage = vessels.kind;
