-- table: excise.package_equivalents
-- grain: one package under one authority that has a table of barrels
-- key: area, package
-- units: barrels of one package, 5 decimals
-- reads: reference.areas, reference.equivalents, excise.packages
-- rule: X1
-- source: 27 CFR 25.156(a), 25.158; a size not listed: gallons / 31, the formula that gives every printed row

create table excise.package_equivalents (
    area text not null,
    package text not null,
    barrels decimal(18,5) not null,
    origin text not null check (origin in ('own record', 'table', 'computed')),
    source text not null
);

insert into excise.package_equivalents by name
with listed as (
    select equivalents.area, packages.package, min(equivalents.barrels) as barrels
    from excise.packages as packages
    join reference.equivalents as equivalents
        on equivalents.container_ml = packages.container_ml
        and equivalents.containers = packages.containers
        and coalesce(equivalents.form, packages.form) = packages.form
    group by equivalents.area, packages.package
)
select
    areas.area,
    packages.package,
    coalesce(
        packages.excise_bbl,
        listed.barrels,
        round(divide10(packages.bbl_numerator, packages.bbl_denominator), 5)
    )::decimal(18,5) as barrels,
    case
        when packages.excise_bbl is not null then 'own record'
        when listed.barrels is not null then 'table'
        else 'computed'
    end as origin,
    areas.equivalents_source as source
from reference.areas as areas
cross join excise.packages as packages
left join listed on listed.area = areas.area and listed.package = packages.package
where areas.equivalents_source is not null;
