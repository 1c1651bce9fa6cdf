-- table: excise.taxed
-- grain: one part of a removal under one tax of one area, at the rate that falls on it
-- key: document, line, kind, area, tax, brewed_by
-- units: measure: litres, litres times strength, barrels by table, or containers: rates.litres_per_unit of it make one unit
-- reads: excise.charges, excise.removals, excise.parts, record.beer_in, record.moves, excise.packages, record.packaging, record.beers, volume.lots, excise.filers, reference.areas, reference.rates, reference.reliefs, reference.settings, excise.package_equivalents
-- rule: X1, X5
-- source: each area's basis and rounding of strength

create table excise.taxed (
    document text not null,
    line bigint not null,
    kind text not null,
    area text not null,
    tax text not null,
    class bigint not null,
    brewed_by text not null,
    degree decimal(18,6),       -- degrees Plato, where the rate is one for each degree
    relief text,                -- the step of a small producer's relief that applies (reference.reliefs)
    date date not null,
    month text not null,
    site text not null,
    form text not null,
    measure decimal(28,10) not null
);

insert into excise.taxed by name
-- A shipment falls into its ordinary part and the parts that excise.parts tells apart.
with pieces as (
    select document, line, 'shipment' as kind, brewed_by, each_bbl, units
    from excise.parts
    union all by name
    select
        removals.document, removals.line, removals.kind,
        case when others.lot is null then 'us' else 'other' end as brewed_by,
        removals.units - coalesce(told.units, 0) as units
    from excise.removals as removals
    left join (select document, line, sum(units) as units from excise.parts group by all) as told
        on told.document = removals.document and told.line = removals.line and removals.kind = 'shipment'
    left join (select move, site, from_lot as lot from record.moves where reason = 'serving_tank') as fills
        on fills.move = removals.document and fills.site = removals.site and removals.kind = 'serving_tank'
    left join (select distinct site, lot from record.beer_in where lot is not null and brewed_by = 'other') as others
        on others.site = fills.site and others.lot = fills.lot
    where removals.units is null or removals.units <> coalesce(told.units, 0)
),
removed as (
    select
        charges.area,
        charges.site,
        removals.* exclude (area, site, units, litres),
        pieces.units,
        (case
            when removals.measured then removals.litres
            when pieces.each_bbl is not null then pieces.units::decimal(18,0)
                * (pieces.each_bbl::decimal(28,6) * 117.347765304::decimal(18,9))::decimal(28,10)
            else pieces.units::decimal(18,0) * packages.litres
        end)::decimal(28,10) as litres,
        pieces.brewed_by,
        filers.producer,
        filers.annual_production,
        rounded(removals.abv_pct, areas.abv_places, areas.abv_mode) as abv,
        rounded(removals.original_plato, areas.plato_places, areas.plato_mode) as plato,
        -- A keg holding more than the tolerance over its size counts for what it holds (27 CFR 25.156(b)).
        (case
            when removals.measured then removals.excise_bbl
            else pieces.units::decimal(18,0) * coalesce(round(pieces.each_bbl, 5), equivalents.barrels)
        end)::decimal(28,10) as table_bbl
    from excise.charges as charges
    join excise.removals as removals
        on removals.document = charges.document and removals.line = charges.line and removals.kind = charges.kind
    join pieces
        on pieces.document = removals.document and pieces.line = removals.line and pieces.kind = removals.kind
    join reference.areas as areas on areas.area = charges.area
    join reference.settings as settings on settings.currency = areas.currency
    join excise.filers as filers on filers.area = charges.area and filers.site = charges.site
    left join excise.packages as packages on packages.package = removals.package
    left join excise.package_equivalents as equivalents
        on equivalents.area = charges.area and equivalents.package = removals.package
    where charges.payer = 'brewer'
        and areas.event = 'removal'
),
-- Where duty falls at the filling, the good packages of each run line stand in place of the removals.
packaged as (
    select
        areas.area,
        case when areas.returns = 'brewer' then (select min(site) from reference.sites) else packaging.site end as site,
        packaging.run as document, packaging.line, 'packaging' as kind, packaging.date, month_of(packaging.date) as month,
        packages.form, 'packaging' as purpose, null::text as account_kind, packaging.filled as units,
        packages.containers, packages.container_ml,
        (packaging.filled::decimal(18,0) * packages.litres)::decimal(28,10) as litres,
        'us' as brewed_by, filers.producer, filers.annual_production,
        rounded(beers.abv_pct, areas.abv_places, areas.abv_mode) as abv,
        rounded(beers.original_plato, areas.plato_places, areas.plato_mode) as plato,
        null::decimal(28,10) as table_bbl
    from record.packaging as packaging
    join reference.sites as sites on sites.site = packaging.site
    join reference.areas as areas on areas.area = country_of(sites.area) and areas.event = 'packaging'
    join reference.settings as settings on settings.currency = areas.currency
    join excise.packages as packages on packages.package = packaging.package
    join excise.filers as filers
        on filers.area = areas.area
        and filers.site
            = case when areas.returns = 'brewer' then (select min(site) from reference.sites) else packaging.site end
    left join volume.lots as lots on lots.site = packaging.site and lots.lot = packaging.lot
    join record.beers as beers on beers.beer = coalesce(packaging.beer, lots.beer)
    where packaging.filled > 0
        and list_contains(areas.tax_classes, coalesce(beers.tax_class, 'beer'))
),
parts as (
    select
        area, site, document, line, kind, date, month, form, purpose, account_kind, units, containers, container_ml,
        litres, brewed_by, producer, annual_production, abv, plato, table_bbl
    from removed
    union all by name
    select * from packaged
)
select
    parts.document, parts.line, parts.kind, parts.area, rates.tax, rates.class, parts.brewed_by,
    case when rates.basis = 'hL_plato' then parts.plato end as degree,
    reliefs.relief_id as relief,
    parts.date, parts.month, parts.site, parts.form,
    case rates.basis
        when 'hL_plato' then parts.litres
        when 'hL_abv' then (parts.litres * parts.abv::decimal(18,6))::decimal(28,10)
        when 'L_alcohol' then (
            parts.litres * (greatest(parts.abv - rates.alcohol_above, 0) * 0.01)::decimal(18,8)
        )::decimal(28,10)
        when 'container' then (coalesce(parts.units, sign(parts.litres)) * parts.containers)::decimal(28,10)
        when 'container_step' then (
            coalesce(parts.units, sign(parts.litres)) * parts.containers
                * ceil(round(divide10(abs(parts.container_ml), rates.step_ml), 4))
        )::decimal(28,10)
        when 'bbl' then case when rates.litres_per_unit = 1 then parts.table_bbl else parts.litres end
        else parts.litres
    end as measure
from parts
join reference.rates as rates
    on rates.area = parts.area
    and rates.band_no = 1
    and parts.date >= rates.from_date
    and parts.date <= coalesce(rates.to_date, parts.date)
    and (rates.producer is null or rates.producer = parts.producer)
    and one_of(rates.forms, parts.form)
    and one_of(rates.purposes, parts.purpose)
    and one_of(rates.account_kinds, parts.account_kind)
    and one_of(rates.brewed_by, parts.brewed_by)
    and within(parts.abv, rates.abv_low, rates.abv_low_in, rates.abv_high, rates.abv_high_in)
    and within(abs(parts.container_ml), rates.size_low, rates.size_low_in, rates.size_high, rates.size_high_in)
left join reference.reliefs as reliefs
    on reliefs.area = parts.area
    and parts.date >= reliefs.from_date
    and parts.date <= coalesce(reliefs.to_date, parts.date)
    and parts.annual_production > reliefs.over
    and parts.annual_production <= reliefs.up_to
    and (reliefs.producer is null or reliefs.producer = parts.producer)
    and one_of(reliefs.forms, parts.form)
    and one_of(reliefs.purposes, parts.purpose)
    and one_of(reliefs.account_kinds, parts.account_kind)
    and one_of(reliefs.brewed_by, parts.brewed_by)
    and within(parts.abv, reliefs.abv_low, reliefs.abv_low_in, reliefs.abv_high, reliefs.abv_high_in)
    and within(abs(parts.container_ml), reliefs.size_low, reliefs.size_low_in, reliefs.size_high, reliefs.size_high_in)
where rates.basis <> 'hL_plato' or parts.plato is not null;
