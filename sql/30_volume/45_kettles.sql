-- table: volume.kettles
-- grain: one site's kettle, of sites that have only one: a brew does not say in which it was boiled
-- key: site
-- units: bbl; tolerance: the kettle's own where its record has one, else the default
-- reads: record.vessels, reference.reading_tolerance
-- rule: V7
-- source: kinds.toml

create table volume.kettles (
    site text primary key,
    vessel text not null,
    working_volume_bbl decimal(18,6) not null,
    tolerance_bbl decimal(18,6) not null
);

insert into volume.kettles by name
select vessels.site, any_value(vessels.vessel) as vessel, any_value(vessels.working_volume_bbl) as working_volume_bbl,
    any_value(coalesce(vessels.reading_tolerance_bbl, tolerances.tolerance_bbl)) as tolerance_bbl
from record.vessels
join reference.reading_tolerance as tolerances on tolerances.stage = vessels.kind
where vessels.kind = 'kettle'
group by vessels.site
having count(*) = 1;
