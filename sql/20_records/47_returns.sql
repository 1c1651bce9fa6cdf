-- table: record.returns
-- grain: one line of packaged beer that came back
-- key: document, line
-- units: packages; volume in bbl
-- reads: given_returns, reference.units
-- rule: X4
-- source: kinds.toml

create table record.returns (
    file text not null,
    sheet text,
    row bigint not null,
    document text not null,
    line bigint not null,
    date date not null,
    site text not null,
    account text not null,
    beer text not null,
    package text not null,
    units bigint not null,
    outcome text not null,
    original_document text,
    volume_returned_bbl decimal(18,6),
    removed_from_site text,
    credit decimal(18,6) not null
);

insert into record.returns by name
select
    given.file,
    given.sheet,
    given.row,
    given.document,
    given.line,
    given.date,
    given.site,
    given.account,
    given.beer,
    given.package,
    given.units,
    given.outcome,
    given.original_document,
    convert6(given.volume_returned, units.numerator, units.denominator) as volume_returned_bbl,
    given.removed_from_site,
    given.credit
from given_returns as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
