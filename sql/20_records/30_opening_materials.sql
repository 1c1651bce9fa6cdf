-- table: record.opening_materials
-- grain: one opening stock of a material
-- key: none
-- units: quantity in the stock unit
-- reads: given_opening_materials, record.material_units, reference.units
-- rule: C1
-- source: kinds.toml

create table record.opening_materials (
    file text not null,
    sheet text,
    row bigint not null,
    site text not null,
    material text not null,
    stock_qty decimal(18,6) not null,
    cost decimal(18,6) not null
);

insert into record.opening_materials by name
select
    given.file,
    given.sheet,
    given.row,
    given.site,
    given.material,
    convert6(given.quantity, units.numerator::hugeint * kept.denominator, units.denominator::hugeint * kept.numerator) as stock_qty,
    given.cost
from given_opening_materials as given
left join reference.units as units on units.unit = given.unit
left join record.material_units as kept on kept.material = given.material
where given.accepted;
