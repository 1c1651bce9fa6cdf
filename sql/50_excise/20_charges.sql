-- table: excise.charges
-- grain: one removal in one area that may tax it
-- key: document, line, kind, area
-- units: as excise.removals
-- reads: excise.removals, reference.areas, reference.sites
-- rule: X3, X4, Areas
-- source: national duty falls on the removal at the site, state and city duty by the account's area

create table excise.charges (
    document text not null,
    line bigint not null,
    kind text not null,
    area text not null,
    site text not null,         -- whose return it is: the site's, or the brewery's first where one return covers all
    known boolean not null,     -- whether the area has a file
    payer text not null        -- 'brewer', or 'wholesaler' where the account is one and pays itself
);

insert into excise.charges by name
with places as (
    select document, line, kind, country_of(site_area) as area
    from excise.removals
    union all
    -- Every prefix of the account's area below the country, in the country of the site.
    select document, line, kind, array_to_string(string_split(area, '-')[1:depth], '-') as area
    from (
        select document, line, kind, area,
            unnest(generate_series(2, len(string_split(area, '-')))) as depth
        from excise.removals
        where country_of(area) = country_of(site_area)
    )
)
select
    places.document,
    places.line,
    places.kind,
    places.area,
    case when areas.returns = 'brewer' then (select min(site) from reference.sites) else removals.site end as site,
    areas.area is not null as known,
    case when areas.payer = 'wholesaler' and removals.account_kind = 'wholesaler' then 'wholesaler' else 'brewer' end
        as payer
from places
join excise.removals as removals
    on removals.document = places.document and removals.line = places.line and removals.kind = places.kind
left join reference.areas as areas on areas.area = places.area
where removals.treatment in ('taxed', 'free', 'offset')
    and list_contains(
        coalesce(areas.taxed, ['sale', 'own_location', 'tavern', 'given_away', 'serving_tank']), removals.purpose
    )
    and list_contains(coalesce(areas.tax_classes, ['beer']), removals.tax_class);
