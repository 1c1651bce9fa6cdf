-- table: record.beers
-- grain: one beer
-- key: beer
-- units: strength in % by volume, gravity in degrees Plato
-- reads: given_beers
-- rule: none
-- source: kinds.toml

create table record.beers (
    file text not null,
    sheet text,
    row bigint not null,
    beer text not null,
    style text not null,
    tax_class text not null,
    abv_pct decimal(18,6),
    original_plato decimal(18,6)
);

insert into record.beers by name
select
    given.file,
    given.sheet,
    given.row,
    given.beer,
    given.style,
    given.tax_class,
    given.abv_pct,
    given.original_plato
from given_beers as given
where given.accepted;
