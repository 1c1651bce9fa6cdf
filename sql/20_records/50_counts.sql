-- table: record.counts
-- grain: one count in the brewery
-- key: date, site, material, lot, beer, package (those that are counted)
-- units: stock unit, bbl or packages; exactly one of the three quantities is given
-- reads: given_counts, record.material_units, reference.units
-- rule: C1, C11, C16
-- source: kinds.toml

create table record.counts (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    counted_on date not null,
    site text not null,
    material text,
    lot text,
    beer text,
    package text,
    stock_qty decimal(18,6),
    volume_bbl decimal(18,6),
    units bigint,
    explanation text
);

insert into record.counts by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    coalesce(given.counted_on, given.date) as counted_on,
    given.site,
    given.material,
    given.lot,
    given.beer,
    given.package,
    case when given.material is not null then convert6(given.quantity, units.numerator::hugeint * kept.denominator, units.denominator::hugeint * kept.numerator) end as stock_qty,
    case when given.lot is not null then convert6(given.quantity, units.numerator, units.denominator) end as volume_bbl,
    case when given.package is not null then given.quantity::bigint end as units,
    given.explanation
from given_counts as given
left join reference.units as units on units.unit = given.unit
left join record.material_units as kept on kept.material = given.material
where given.accepted and given.account is null;
