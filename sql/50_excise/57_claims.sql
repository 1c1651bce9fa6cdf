-- table: excise.claims
-- grain: beer on which tax may be claimed back apart from the return
-- key: document, line, reason
-- units: barrels and money of the country's area
-- reads: excise.removals, reference.areas, reference.rates, excise.filers, record.beer_in, reference.sites, excise.packages
-- rule: X4
-- source: 26 U.S.C. 5056; 27 CFR 25.184, 25.281, 25.283, 25.286

create table excise.claims (
    document text not null,
    line bigint not null,
    reason text not null,
    area text not null,
    site text not null,
    date date not null,
    beer text not null,
    bbl decimal(18,6) not null,
    rate decimal(18,6),
    amount decimal(18,6),
    claim_by date,
    source text,
    file text not null,
    sheet text,
    row bigint not null
);

insert into excise.claims by name
-- The lower rate, unless the brewery shows that it paid the higher (27 CFR 25.281).
with first_rates as (
    select area, producer, from_date, to_date, rate
    from reference.rates
    where band_no = 1 and one_of(brewed_by, 'us')
),
back as (
    select
        removals.document, removals.line,
        'taxed beer returned to another brewery, or destroyed elsewhere' as reason,
        areas.area, removals.site, removals.date, removals.beer, -removals.excise_bbl::decimal(18,6) as bbl,
        areas.claim_months, areas.claims_source as source, removals.file, removals.sheet, removals.row
    from excise.removals as removals
    join reference.areas as areas
        on areas.area = country_of(removals.site_area) and areas.claim_months is not null
    where removals.treatment = 'claim'
),
-- Beer received in bond: within the allowance no claim; beyond it the whole loss (27 CFR 25.184(b), (c)).
transit as (
    select
        coalesce(beer_in.document, beer_in.file || ' ' || beer_in.row) as document, 1 as line,
        'lost on the way in bond' as reason, areas.area, beer_in.site, beer_in.date, beer_in.beer,
        case
            when beer_in.lot is not null then beer_in.quantity_shipped - beer_in.volume_bbl
            else barrels(
                (beer_in.quantity_shipped - beer_in.units), packages.bbl_numerator, packages.bbl_denominator
            )
        end::decimal(18,6) as bbl,
        case when beer_in.lot is not null then beer_in.quantity_shipped - beer_in.volume_bbl
            else beer_in.quantity_shipped - beer_in.units end as missing,
        beer_in.quantity_shipped as shipped, areas.transit_loss_pct,
        areas.claim_months, areas.claims_source as source, beer_in.file, beer_in.sheet, beer_in.row
    from record.beer_in as beer_in
    join reference.sites as sites on sites.site = beer_in.site
    join reference.areas as areas
        on areas.area = country_of(sites.area) and areas.transit_loss_pct is not null
    left join excise.packages as packages on packages.package = beer_in.package
    where beer_in.quantity_shipped is not null
),
claims as (
    select * from back
    union all by name
    select * exclude (missing, shipped, transit_loss_pct)
    from transit
    where missing * 100 > shipped * transit_loss_pct
)
select
    claims.* exclude (claim_months),
    first_rates.rate,
    round(claims.bbl::decimal(28,6) * first_rates.rate, 2)::decimal(18,6) as amount,
    (claims.date + to_months(claims.claim_months::int))::date as claim_by
from claims
left join excise.filers as filers on filers.area = claims.area and filers.site = claims.site
left join first_rates
    on first_rates.area = claims.area
    and claims.date >= first_rates.from_date and claims.date <= coalesce(first_rates.to_date, claims.date)
    and (first_rates.producer is null or first_rates.producer = filers.producer);
