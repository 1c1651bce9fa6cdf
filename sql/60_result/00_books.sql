-- table: result.books
-- grain: the books (one row)
-- key: none
-- units: none
-- reads: reference.settings
-- rule: none
-- source: brewery.toml; the version of the program that computed them

create table result.books (
    name text not null,
    currency text not null,
    first_month text not null,
    materials_method text not null,
    goods_method text not null,
    version text not null
);

insert into result.books by name
select name, currency, first_month, materials_method, goods_method, $version as version
from reference.settings;
