-- table: record.shipments
-- grain: one line of packaged beer that left
-- key: document, line
-- units: packages; price of one package
-- reads: given_shipments
-- rule: M1
-- source: kinds.toml

-- unit_price is null where the prices decide.
create table record.shipments (
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
    purpose text not null,
    unit_price decimal(18,6),
    freight decimal(18,6) not null
);

insert into record.shipments by name
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
    given.purpose,
    given.unit_price,
    given.freight
from given_shipments as given
where given.accepted;
