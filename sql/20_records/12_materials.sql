-- table: record.materials
-- grain: one material
-- key: material
-- units: extract in % of weight, price of one stock unit
-- reads: given_materials, reference.units
-- rule: U1
-- source: kinds.toml

-- lb_per_stock_unit is null where stock is not kept by weight.
create table record.materials (
    file text not null,
    sheet text,
    row bigint not null,
    material text not null,
    kind text not null,
    stock_unit text not null,
    extract_pct decimal(18,6),
    standard_price decimal(18,6),
    lb_per_stock_unit decimal(28,10)
);

insert into record.materials by name
select
    given.file,
    given.sheet,
    given.row,
    given.material,
    given.kind,
    given.stock_unit,
    given.extract_pct,
    given.standard_price,
    case when units.family = 'weight' then divide10(units.numerator, units.denominator) end as lb_per_stock_unit
from given_materials as given
left join reference.units as units on units.unit = given.stock_unit
where given.accepted;
