-- table: excise.parts
-- grain: the part of a shipment that is not the brewery's own beer in kegs of their size
-- key: document, line, brewed_by, each_bbl
-- units: units of the package; each_bbl is what one holds where it is overfilled
-- reads: record.opening_goods, record.packaging, record.beer_in, record.shipments, record.moves, record.brews, volume.lots, excise.packages, reference.areas, reference.sites, reference.settings
-- rule: X1, X5
-- source: 27 CFR 25.156(b); 26 U.S.C. 5051(a): beer received in bond that another brewed, followed by first in, first out

create table excise.parts (
    document text not null,
    line bigint not null,
    brewed_by text not null,
    each_bbl decimal(18,6),
    units bigint not null
);

insert into excise.parts by name
-- A lot holds another's beer when such beer came into it, straight or from such a lot, and no brew did: racking and
-- filling do not make beer one's own; brewing into the lot does.
with recursive foreign_lots as (
    select site, lot
    from record.beer_in
    where lot is not null and brewed_by = 'other'
    union
    select moves.site, moves.to_lot as lot
    from foreign_lots
    join record.moves as moves on moves.site = foreign_lots.site and moves.from_lot = foreign_lots.lot
    where moves.to_lot is not null
),
others as (
    select site, lot
    from foreign_lots
    anti join record.brews as brews on brews.site = foreign_lots.site and brews.lot = foreign_lots.lot
),
layers as (
    select opening.site, opening.beer, opening.package, settings.first_day as date, 0 as place, '' as name,
        opening.units, 'us' as brewed_by, null::decimal(18,6) as each_bbl
    from record.opening_goods as opening
    cross join reference.settings as settings
    union all by name
    select packaging.site, coalesce(packaging.beer, lots.beer) as beer, packaging.package, packaging.date, 1 as place,
        packaging.run || ' ' || lpad(packaging.line::text, 6, '0') as name, packaging.filled as units,
        case when others.lot is null then 'us' else 'other' end as brewed_by,
        case
            when packages.form = 'keg' and packaging.average_fill_bbl::decimal(28,10) * packages.bbl_denominator
                * packages.containers * 100 > packages.bbl_numerator * (100 + nation.keg_overfill_pct)
                then packaging.average_fill_bbl * packages.containers
        end::decimal(18,6) as each_bbl
    from record.packaging as packaging
    join excise.packages as packages on packages.package = packaging.package
    join reference.sites as sites on sites.site = packaging.site
    left join reference.areas as nation on nation.area = country_of(sites.area)
    left join volume.lots as lots on lots.site = packaging.site and lots.lot = packaging.lot
    left join others on others.site = packaging.site and others.lot = packaging.lot
    union all by name
    select site, beer, package, date, 1 as place, coalesce(document, file || row) as name, units,
        coalesce(brewed_by, 'us') as brewed_by
    from record.beer_in
    where package is not null
),
-- Only goods of which some are out of the ordinary need to be followed.
watched as (
    select distinct site, beer, package from layers where brewed_by = 'other' or each_bbl is not null
),
layer_spans as (
    select layers.*,
        sum(units) over (partition by site, beer, package order by date, place, name) - units as first_unit,
        sum(units) over (partition by site, beer, package order by date, place, name) as last_unit
    from layers
    semi join watched using (site, beer, package)
),
shipped as (
    select document, line, site, beer, package,
        sum(units) over (partition by site, beer, package order by date, document, line) - units as first_unit,
        sum(units) over (partition by site, beer, package order by date, document, line) as last_unit
    from record.shipments
    semi join watched using (site, beer, package)
)
select
    shipped.document, shipped.line, layer_spans.brewed_by, layer_spans.each_bbl,
    sum(
        least(shipped.last_unit, layer_spans.last_unit) - greatest(shipped.first_unit, layer_spans.first_unit)
    )::bigint as units
from shipped
join layer_spans
    on layer_spans.site = shipped.site and layer_spans.beer = shipped.beer and layer_spans.package = shipped.package
    and layer_spans.first_unit < shipped.last_unit and layer_spans.last_unit > shipped.first_unit
where layer_spans.brewed_by = 'other' or layer_spans.each_bbl is not null
group by all;
