-- table: reference.areas
-- grain: one tax area that has a file
-- key: area
-- units: as each names it
-- reads: given_areas
-- rule: X, Areas
-- source: the area files, each with its own sources

create table reference.areas (
    area text primary key,
    name text not null,
    level text not null,
    authority text not null,
    licence_authority text,
    edition text not null,
    payer text not null,
    payer_source text,
    returns text not null,
    event text not null,
    default_period text not null,
    default_producer text,
    over_2_million_producer text,
    production_unit text,
    incomplete text,
    currency text not null,
    tax_classes text[] not null,
    taxed text[] not null,
    quantity_places bigint,
    quantity_mode text,
    rounds_each_day boolean not null,
    money_places bigint not null,
    money_mode text not null,
    abv_places bigint,
    abv_mode text,
    plato_places bigint,
    plato_mode text,
    unit_rate_places bigint,
    unit_rate_mode text,
    relief_rate_places bigint,
    relief_rate_mode text,
    discount_places bigint,
    discount_mode text,
    counter_month bigint not null,
    beer_from_abv decimal(18,6),
    relief_until decimal(18,6),
    claim_months decimal(18,6),
    transit_loss_pct decimal(18,6),
    claims_source text,
    notes text,
    equivalents_source text,
    not_listed text,
    keg_overfill_pct decimal(18,6),
    discount_pct decimal(18,6),
    discount_when text,
    discount_source text,
    credits text,
    file text not null,
    own boolean not null
);

insert into reference.areas by name
select * from given_areas;
