-- table: record.material_units
-- grain: one material, those of rows set aside too
-- key: material
-- units: quantity * numerator / denominator = barrels, pounds or each
-- reads: given_materials, reference.units
-- rule: U1
-- source: kinds.toml

-- A row that names a material whose own row was set aside goes on, so its unit must be known here. Where that cannot be
-- read either, quantities stay in barrels, pounds or each.
create table record.material_units (
    material text primary key,
    stock_unit text,
    numerator decimal(18,0) not null,
    denominator decimal(18,0) not null
);

insert into record.material_units by name
with first_rows as (
    select material, arg_min(stock_unit, (not accepted, file, coalesce(sheet, ''), row)) as stock_unit
    from given_materials
    where material is not null
    group by material
)
select
    first_rows.material,
    first_rows.stock_unit,
    coalesce(units.numerator, 1) as numerator,
    coalesce(units.denominator, 1) as denominator
from first_rows
left join reference.units as units
    on units.unit = first_rows.stock_unit;
