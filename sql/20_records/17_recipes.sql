-- table: record.recipes
-- grain: one material of one beer from one month on
-- key: none (rows of one material add up)
-- units: stock units for one barrel in the fermenter
-- reads: given_recipes, record.material_units, reference.units
-- rule: C13
-- source: kinds.toml

create table record.recipes (
    file text not null,
    sheet text,
    row bigint not null,
    beer text not null,
    material text not null,
    stock_qty_per_bbl decimal(18,6) not null,
    from_month text
);

insert into record.recipes by name
select
    given.file,
    given.sheet,
    given.row,
    given.beer,
    given.material,
    convert6(given.quantity_per_bbl, units.numerator::hugeint * kept.denominator, units.denominator::hugeint * kept.numerator) as stock_qty_per_bbl,
    given.from_month
from given_recipes as given
left join reference.units as units on units.unit = given.unit
left join record.material_units as kept on kept.material = given.material
where given.accepted;
