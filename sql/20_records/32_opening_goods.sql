-- table: record.opening_goods
-- grain: one opening stock of packaged beer
-- key: none
-- units: packages
-- reads: given_opening_goods
-- rule: C11
-- source: kinds.toml

create table record.opening_goods (
    file text not null,
    sheet text,
    row bigint not null,
    site text not null,
    beer text not null,
    package text not null,
    units bigint not null,
    cost decimal(18,6) not null
);

insert into record.opening_goods by name
select
    given.file,
    given.sheet,
    given.row,
    given.site,
    given.beer,
    given.package,
    given.units,
    given.cost
from given_opening_goods as given
where given.accepted;
