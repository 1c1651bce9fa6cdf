-- table: excise.removals
-- grain: one shipment line, return line or serving-tank fill
-- key: document, line, kind
-- units: volumes in bbl, excise_bbl at the authority's 5 decimals, litres exact; what came back is negative
-- reads: record.shipments, record.returns, record.moves, record.accounts, record.beers, volume.lots, reference.sites,
--   excise.packages, excise.package_equivalents, reference.areas
-- rule: X1, X3, X4
-- source: 26 U.S.C. 5052(c), 5053, 5056(a), 5414, 5418; 27 CFR 25.211

create table excise.removals (
    document text not null,
    line bigint not null,
    kind text not null check (kind in ('shipment', 'return', 'serving_tank')),
    date date not null,
    month text not null,
    site text not null,
    account text,
    account_kind text,
    area text not null,         -- where the account takes delivery; the site's own where it has none
    site_area text not null,
    beer text not null,
    style text,
    tax_class text not null,
    abv_pct decimal(18,6),
    original_plato decimal(18,6),
    package text,
    form text not null check (form in ('keg', 'bottled', 'bulk')),
    purpose text not null,      -- of a return: what the beer had left for
    units bigint,
    bbl decimal(18,6) not null,
    litres decimal(28,10) not null,
    containers bigint not null,
    container_ml decimal(18,4) not null,
    excise_bbl decimal(18,5) not null,
    measured boolean not null,  -- by volume, not by counting packages
    treatment text not null check (treatment in ('taxed', 'free', 'outside', 'offset', 'claim', 'was untaxed')),
    taxable boolean not null,
    original_document text,
    file text not null,
    sheet text,
    row bigint not null
);

insert into excise.removals by name
with originals as (
    select
        lower(document) as document, lower(beer) as beer, lower(package) as package,
        arg_min(purpose, line) as purpose, arg_min(site, line) as site
    from record.shipments
    group by all
),
lines as (
    select
        document, line, 'shipment' as kind, date, site, account, beer, package, purpose, units,
        null::decimal(18,6) as volume_bbl, true as comes_back_here, null::text as original_document, file, sheet, row
    from record.shipments
    union all by name
    -- An unknown original document: the beer is taken for taxed. Where it left from: as said, as shipped, else here.
    select
        returns.document, returns.line, 'return' as kind, returns.date, returns.site, returns.account, returns.beer,
        returns.package, coalesce(originals.purpose, 'sale') as purpose, -returns.units as units,
        -returns.volume_returned_bbl as volume_bbl,
        coalesce(returns.removed_from_site, originals.site, returns.site) = returns.site
            and returns.outcome <> 'destroyed_elsewhere' as comes_back_here,
        returns.original_document, returns.file, returns.sheet, returns.row
    from record.returns as returns
    left join originals
        on originals.document = lower(returns.original_document)
        and originals.beer = lower(returns.beer)
        and originals.package = lower(returns.package)
    union all by name
    select
        moves.move as document, 1 as line, 'serving_tank' as kind, moves.date, moves.site, moves.account,
        coalesce(moves.beer, lots.beer, '?') as beer, null::text as package, 'serving_tank' as purpose,
        null::bigint as units, moves.volume_out_bbl as volume_bbl, true as comes_back_here,
        null::text as original_document, moves.file, moves.sheet, moves.row
    from record.moves as moves
    left join volume.lots as lots on lots.site = moves.site and lots.lot = moves.from_lot
    where moves.reason = 'serving_tank'
),
measured as (
    select
        lines.*,
        lines.volume_bbl is not null as measured,
        accounts.kind as account_kind,
        coalesce(accounts.area, sites.area) as area,
        sites.area as site_area,
        beers.style,
        coalesce(beers.tax_class, 'beer') as tax_class,
        beers.abv_pct,
        beers.original_plato,
        coalesce(packages.form, 'bulk') as form,
        coalesce(lines.volume_bbl, barrels(lines.units, packages.bbl_numerator, packages.bbl_denominator))
            ::decimal(18,6) as bbl,
        (case
            when lines.volume_bbl is null then lines.units::decimal(18,0) * packages.litres
            else lines.volume_bbl::decimal(28,10) * 117.347765304::decimal(18,9)
        end)::decimal(28,10) as litres,
        coalesce(packages.containers, 1) as containers,
        coalesce(packages.container_ml, lines.volume_bbl::decimal(28,10) * 117347.765304::decimal(18,6))
            ::decimal(18,4) as container_ml,
        -- Units times the 5-decimal equivalent; what was measured, or has no package, at 5 decimals itself.
        (case
            when lines.volume_bbl is null then lines.units::decimal(18,0) * coalesce(
                equivalents.barrels,
                round(divide10(packages.bbl_numerator, packages.bbl_denominator), 5)
            )
            else round(lines.volume_bbl, 5)
        end)::decimal(18,5) as excise_bbl,
        list_contains(
            coalesce(nation.tax_classes, ['beer']), coalesce(beers.tax_class, 'beer')
        ) as in_scope,
        list_contains(
            coalesce(nation.taxed, ['sale', 'own_location', 'tavern', 'given_away', 'serving_tank']), lines.purpose
        ) as was_taxed
    from lines
    join reference.sites as sites on sites.site = lines.site
    left join record.accounts as accounts on accounts.account = lines.account
    left join record.beers as beers on beers.beer = lines.beer
    left join excise.packages as packages on packages.package = lines.package
    left join reference.areas as nation on nation.area = country_of(sites.area)
    left join excise.package_equivalents as equivalents
        on equivalents.area = nation.area and equivalents.package = lines.package
),
treated as (
    select
        *,
        case
            when not in_scope then 'outside'
            when kind <> 'return' and was_taxed then 'taxed'
            when kind <> 'return' then 'free'
            when not was_taxed then 'was untaxed'
            when comes_back_here then 'offset'
            else 'claim'
        end as treatment
    from measured
)
select
    * exclude (volume_bbl, comes_back_here, in_scope, was_taxed),
    month_of(date) as month,
    treatment in ('taxed', 'offset') as taxable
from treated;
