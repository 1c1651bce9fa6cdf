-- table: excise.production_points
-- grain: one site that reports its operations
-- key: site
-- units: none
-- reads: reference.sites, reference.filers
-- rule: X8
-- source: brewery.toml; without an entry beer counts as produced when it goes into the fermenter

create table excise.production_points (
    site text not null,
    area text not null,
    production_point text not null check (production_point in ('into_fermenter', 'out_of_fermenter'))
);

insert into excise.production_points by name
select sites.site, country_of(sites.area) as area,
    coalesce(
        max(filers.production_point) filter (where filers.site = sites.site),
        max(filers.production_point) filter (where filers.site is null),
        'into_fermenter'
    ) as production_point
from reference.sites as sites
left join reference.filers as filers on filers.area = country_of(sites.area)
where country_of(sites.area) = 'US'
group by sites.site, sites.area;
