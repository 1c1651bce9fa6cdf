-- table: reference.settings
-- grain: the books
-- key: none (one row)
-- units: names as in brewery.toml
-- reads: given_settings
-- rule: none
-- source: brewery.toml

create table reference.settings (
    name text not null,
    currency text not null,
    first_month text not null,
    first_day date not null,
    materials_method text not null,
    goods_method text not null,
    own_houses text not null
);

insert into reference.settings by name
select name, currency, first_month, first_day, materials_method, goods_method, own_houses
from given_settings;
