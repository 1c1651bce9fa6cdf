-- table: reference.rates
-- grain: one band of one dated rate of one tax
-- key: rate_id
-- units: rate in the area's currency a unit; limits of strength in % abv, of containers in mL; bands in bands_litres litres
-- reads: given_area_rates
-- rule: X5
-- source: each row's own source

create table reference.rates (
    rate_id text primary key,
    area text not null,
    tax text not null,
    class bigint not null,
    band_no bigint not null,
    band text not null,
    from_date date not null,
    start_known boolean not null,
    to_date date,
    basis text not null,
    unit text not null,
    litres_per_unit decimal(18,9) not null,
    step_ml decimal(18,10),
    alcohol_above decimal(18,6) not null,
    counter text,
    over decimal(28,9) not null,
    up_to decimal(28,9),
    over_quota boolean not null,
    up_to_quota boolean not null,
    bands_litres decimal(18,9) not null,
    rate decimal(18,6) not null,
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
    checked date,
    unverified boolean not null,
    note text
);

insert into reference.rates by name
select * from given_area_rates;
