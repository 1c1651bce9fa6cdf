-- table: reference.filers
-- grain: one area in which the brewery files
-- key: area, site
-- units: quota in barrels, expected tax and cap of remission in the area's currency
-- reads: given_filers
-- rule: X5, X7
-- source: brewery.toml

create table reference.filers (
    area text not null,
    site text,
    return_period text,
    reduced_rate_quota_bbl decimal(18,6),
    over_2_million_bbl boolean not null,
    pays_by_eft boolean not null,
    expected_tax decimal(18,6),
    production_point text,
    producer text,
    annual_production decimal(18,6),
    remission boolean not null,
    remission_cap decimal(18,6)
);

insert into reference.filers by name
select area, site, return_period, reduced_rate_quota_bbl, over_2_million_bbl, pays_by_eft, expected_tax, production_point,
    producer, annual_production, remission, remission_cap
from given_filers;
