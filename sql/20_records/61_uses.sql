-- table: record.uses
-- grain: one material used, as written or by a recipe
-- key: none
-- units: quantity in the stock unit, added volume in bbl
-- reads: given_uses, record.brews, record.packaging, record.recipes, record.package_materials, record.lot_beers, record.material_units, reference.units
-- rule: C2, C13
-- source: kinds.toml

create table record.uses (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    material text not null,
    stock_qty decimal(18,6) not null,
    brew text,
    lot text,
    run text,
    account text,
    pool text,
    income decimal(18,6),
    adds_volume_bbl decimal(18,6),
    supplier_lot text,
    generation bigint,
    from_recipe boolean not null
);

insert into record.uses by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.material,
    convert6(given.quantity, units.numerator::hugeint * kept.denominator, units.denominator::hugeint * kept.numerator) as stock_qty,
    given.brew,
    given.lot,
    given.run,
    given.account,
    given.pool,
    given.income,
    convert6(given.adds_volume, volume_units.numerator, volume_units.denominator) as adds_volume_bbl,
    given.supplier_lot,
    given.generation,
    false as from_recipe
from given_uses as given
left join reference.units as units on units.unit = given.unit
left join record.material_units as kept on kept.material = given.material
left join reference.units as volume_units on volume_units.unit = given.volume_unit
where given.accepted;

-- A brew without any uses takes its beer's recipe: of each material the rows of the latest month that has begun. The
-- place is the recipe's row.
insert into record.uses by name
with bare as (
    select brew, date, site, beer, into_fermenter_bbl
    from record.brews
    where brew not in (select brew from given_uses where brew is not null)
),
dated as (
    select
        bare.brew,
        bare.date,
        bare.site,
        bare.into_fermenter_bbl,
        recipes.file,
        recipes.sheet,
        recipes.row,
        recipes.material,
        recipes.stock_qty_per_bbl,
        rank() over (partition by bare.brew, recipes.material order by recipes.from_month desc nulls last) as age
    from bare
    inner join record.recipes as recipes
        on recipes.beer = bare.beer and coalesce(recipes.from_month, '') <= month_of(bare.date)
)
select
    file,
    sheet,
    row,
    date,
    site,
    material,
    (stock_qty_per_bbl::decimal(28,6) * into_fermenter_bbl::decimal(10,6))::decimal(18,6) as stock_qty,
    brew,
    true as from_recipe
from dated
where age = 1;

-- A run without any uses takes its package materials, rejected packages too; a row for the beer goes before one for all.
insert into record.uses by name
with bare as (
    select
        packaging.run,
        packaging.date,
        packaging.site,
        packaging.package,
        coalesce(packaging.beer, lot_beers.beer) as beer,
        sum(packaging.filled + packaging.rejected) as packages
    from record.packaging as packaging
    left join record.lot_beers as lot_beers
        on lot_beers.site = packaging.site and lot_beers.lot = packaging.lot
    where packaging.run not in (select run from given_uses where run is not null)
    group by all
),
chosen as (
    select
        bare.run,
        bare.date,
        bare.site,
        bare.packages,
        materials.file,
        materials.sheet,
        materials.row,
        materials.material,
        materials.stock_qty,
        rank() over (
            partition by bare.run, bare.package, bare.beer, materials.material order by materials.beer is null
        ) as place
    from bare
    inner join record.package_materials as materials
        on materials.package = bare.package and (materials.beer is null or materials.beer = bare.beer)
)
select
    file,
    sheet,
    row,
    date,
    site,
    material,
    sum(packages::decimal(10,0) * stock_qty)::decimal(18,6) as stock_qty,
    run,
    true as from_recipe
from chosen
where place = 1
group by all;
