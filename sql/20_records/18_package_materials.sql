-- table: record.package_materials
-- grain: one material of one package
-- key: none (rows of one material add up)
-- units: stock units for one package
-- reads: given_package_materials, record.material_units, reference.units
-- rule: C13
-- source: kinds.toml

-- beer null: for every beer.
create table record.package_materials (
    file text not null,
    sheet text,
    row bigint not null,
    package text not null,
    material text not null,
    stock_qty decimal(18,6) not null,
    beer text
);

insert into record.package_materials by name
select
    given.file,
    given.sheet,
    given.row,
    given.package,
    given.material,
    convert6(given.quantity, units.numerator::hugeint * kept.denominator, units.denominator::hugeint * kept.numerator) as stock_qty,
    given.beer
from given_package_materials as given
left join reference.units as units on units.unit = given.unit
left join record.material_units as kept on kept.material = given.material
where given.accepted;
