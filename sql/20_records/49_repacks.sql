-- table: record.repacks
-- grain: one repacking
-- key: document, from_beer, from_package, to_beer, to_package
-- units: packages
-- reads: given_repacks
-- rule: C11a
-- source: kinds.toml

create table record.repacks (
    file text not null,
    sheet text,
    row bigint not null,
    document text not null,
    date date not null,
    site text not null,
    from_beer text not null,
    from_package text not null,
    from_units bigint not null,
    to_beer text not null,
    to_package text not null,
    to_units bigint not null
);

insert into record.repacks by name
select
    given.file,
    given.sheet,
    given.row,
    given.document,
    given.date,
    given.site,
    given.from_beer,
    given.from_package,
    given.from_units,
    given.to_beer,
    given.to_package,
    given.to_units
from given_repacks as given
where given.accepted;
