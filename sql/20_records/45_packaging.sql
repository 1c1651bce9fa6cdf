-- table: record.packaging
-- grain: one line of a packaging run
-- key: run, line
-- units: packages; volumes in bbl
-- reads: given_packaging, reference.units
-- rule: U1, C15
-- source: kinds.toml

-- beer null: the lot's.
create table record.packaging (
    file text not null,
    sheet text,
    row bigint not null,
    run text not null,
    line bigint not null,
    date date not null,
    site text not null,
    lot text not null,
    beer text,
    package text not null,
    filled bigint not null,
    rejected bigint not null,
    average_fill_bbl decimal(28,12),
    volume_drawn_bbl decimal(18,6),
    lot_emptied boolean not null
);

insert into record.packaging by name
select
    given.file,
    given.sheet,
    given.row,
    given.run,
    given.line,
    given.date,
    given.site,
    given.lot,
    given.beer,
    given.package,
    given.filled,
    given.rejected,
    convert12(given.average_fill, fill_units.numerator, fill_units.denominator) as average_fill_bbl,
    convert6(given.volume_drawn, units.numerator, units.denominator) as volume_drawn_bbl,
    given.lot_emptied
from given_packaging as given
left join reference.units as units on units.unit = given.volume_unit
left join reference.units as fill_units on fill_units.unit = given.fill_unit
where given.accepted;
