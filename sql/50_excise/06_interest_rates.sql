-- table: reference.interest_rates
-- grain: one dated rate of interest on tax paid late in one area
-- key: area, from_date
-- units: percent a year
-- reads: given_interest_rates
-- rule: X10
-- source: each row's own source

create table reference.interest_rates (
    area text not null,
    from_date date not null,
    to_date date,
    rate_pct decimal(18,6) not null,
    compounded text not null,
    source text not null,
    unverified boolean not null
);

insert into reference.interest_rates by name
select * from given_interest_rates;
