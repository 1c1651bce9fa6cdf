-- table: cost.material_standards
-- grain: one row of a recipe, or of a package's materials, for one brew or run line
-- key: brew, run, line, material
-- units: the material's stock unit
-- reads: volume.brews, record.recipes, volume.run_lines, record.package_materials
-- rule: C13
-- source: a brew should have used the recipe for the barrels it gave, a run the package's materials for the packages filled

create table cost.material_standards (
    month text not null,
    site text not null,
    brew text,
    run text,
    line bigint,
    material text not null,
    qty decimal(18,6) not null,
    file text not null,
    sheet text,
    row bigint not null
);

insert into cost.material_standards by name
with
recipes as (
    select brews.month, brews.site, brews.brew, recipes.material,
        (recipes.stock_qty_per_bbl::decimal(28,6) * brews.volume_out_bbl::decimal(10,6))::decimal(18,6) as qty,
        recipes.file, recipes.sheet, recipes.row
    from volume.brews
    join record.recipes on recipes.beer = brews.beer and coalesce(recipes.from_month, '') <= brews.month
    qualify rank() over (partition by brews.brew, recipes.material order by recipes.from_month desc nulls last) = 1
),
packed as (
    select run_lines.month, run_lines.site, run_lines.run, run_lines.line, materials.material,
        (run_lines.filled::decimal(10,0) * materials.stock_qty)::decimal(18,6) as qty,
        materials.file, materials.sheet, materials.row
    from volume.run_lines
    join record.package_materials as materials on materials.package = run_lines.package
        and (materials.beer is null or materials.beer = run_lines.beer)
    qualify rank() over (
        partition by run_lines.run, run_lines.line, materials.material order by materials.beer is null
    ) = 1
)
select * from recipes
union all by name
select * from packed;
