-- table: result.books
-- grain: the books (one row)
-- key: none
-- units: none
-- reads: reference.settings
-- rule: none
-- source: brewery.toml; the version of the program, and a hash of all that the figures depend on

create table result.books (
    name text not null,
    currency text not null,
    first_month text not null,
    materials_method text not null,
    goods_method text not null,
    version text not null,
    fingerprint text not null
);

insert into result.books by name
select name, currency, first_month, materials_method, goods_method, $version as version,
    $fingerprint as fingerprint
from reference.settings;
