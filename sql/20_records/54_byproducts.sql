-- table: record.byproducts
-- grain: one delivery of a by-product
-- key: none
-- units: lb
-- reads: given_byproducts, reference.units
-- rule: C5
-- source: kinds.toml

create table record.byproducts (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    kind text not null,
    quantity_lb decimal(18,6) not null,
    income decimal(18,6) not null
);

insert into record.byproducts by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.kind,
    convert6(given.quantity, units.numerator, units.denominator) as quantity_lb,
    given.income
from given_byproducts as given
left join reference.units as units on units.unit = given.unit
where given.accepted;
