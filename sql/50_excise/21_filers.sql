-- table: excise.filers
-- grain: one area in which a site has a return to file
-- key: area, site
-- units: quota in bbl, annual production in the area's production_unit
-- reads: reference.sites, reference.areas, reference.filers, excise.charges
-- rule: X5, X7
-- source: brewery.toml; without an entry the area file's own default period and producer

create table excise.filers (
    area text not null,
    site text not null,
    length text not null,
    producer text,
    quota_bbl decimal(18,6),
    annual_production decimal(18,6),
    expected_tax decimal(18,6),
    remission boolean not null,         -- whether the brewery says that it is given the area's remission
    remission_cap decimal(18,6)
);

insert into excise.filers by name
with first_site as (
    select min(site) as site from reference.sites
),
standing as (
    select areas.area, areas.returns, sites.site
    from reference.sites as sites
    join reference.areas as areas on sites.area = areas.area or starts_with(sites.area, areas.area || '-')
    union
    select filers.area, areas.returns, filers.site
    from reference.filers as filers
    join reference.areas as areas on areas.area = filers.area
    where filers.site is not null
),
places as (
    select standing.area, case when standing.returns = 'brewer' then first_site.site else standing.site end as site
    from standing
    cross join first_site
    union
    select area, site from excise.charges where known and payer = 'brewer'
),
-- A site's own entry before that of every site; one return for all sites has one entry, whichever site that names.
entries as (
    select places.area, places.site, filers.* exclude (area, site)
    from places
    join reference.areas as areas on areas.area = places.area
    left join reference.filers as filers
        on filers.area = places.area
        and (filers.site = places.site or filers.site is null or areas.returns = 'brewer')
    qualify row_number() over (partition by places.area, places.site order by filers.site nulls last) = 1
)
select
    entries.area,
    entries.site,
    coalesce(entries.return_period, areas.default_period)
        || case when entries.pays_by_eft and entries.return_period = 'semimonthly' then ' by EFT' else '' end as length,
    coalesce(
        entries.producer,
        case when entries.over_2_million_bbl then areas.over_2_million_producer end,
        areas.default_producer
    ) as producer,
    entries.reduced_rate_quota_bbl as quota_bbl,
    entries.annual_production,
    entries.expected_tax,
    coalesce(entries.remission, false) as remission,
    entries.remission_cap
from entries
join reference.areas as areas on areas.area = entries.area;
