-- table: reference.reliefs
-- grain: one step of a small producer's relief
-- key: relief_id
-- units: over and up_to in the area's production_unit a year; base and marginal in money; percent of the rate
-- reads: given_area_reliefs
-- rule: X5
-- source: each row's own source

create table reference.reliefs (
    relief_id text primary key,
    area text not null,
    kind text not null,
    from_date date not null,
    to_date date,
    over decimal(18,6) not null,
    up_to decimal(18,6) not null,
    base decimal(18,6) not null,
    marginal decimal(18,6) not null,
    percent decimal(18,6) not null,
    producer text,
    forms text[],
    purposes text[],
    account_kinds text[],
    brewed_by text[],
    abv_low decimal(18,4),
    abv_low_in boolean not null,
    abv_high decimal(18,4),
    abv_high_in boolean not null,
    size_low decimal(18,4),
    size_low_in boolean not null,
    size_high decimal(18,4),
    size_high_in boolean not null,
    falls_on text not null,     -- these conditions in words
    source text not null,
    unverified boolean not null
);

insert into reference.reliefs by name
select * from given_area_reliefs;
