-- table: record.receipts
-- grain: one line of material received
-- key: none
-- units: quantity in the stock unit
-- reads: given_receipts, record.material_units, reference.units
-- rule: C1
-- source: kinds.toml

-- cost is null only where estimated.
create table record.receipts (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    material text not null,
    stock_qty decimal(18,6) not null,
    cost decimal(18,6),
    freight decimal(18,6) not null,
    supplier text,
    document text,
    supplier_lot text,
    estimated boolean not null
);

insert into record.receipts by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.material,
    convert6(given.quantity, units.numerator::hugeint * kept.denominator, units.denominator::hugeint * kept.numerator) as stock_qty,
    given.cost,
    given.freight,
    given.supplier,
    given.document,
    given.supplier_lot,
    given.estimated
from given_receipts as given
left join reference.units as units on units.unit = given.unit
left join record.material_units as kept on kept.material = given.material
where given.accepted;
