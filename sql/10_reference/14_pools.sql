-- table: reference.pools
-- grain: one pool of cost from one month on
-- key: pool, site, from_month
-- units: site null: every site; to_month is the last month before the next change; standard_rate: money a unit of the driver
-- reads: given_pools
-- rule: C3
-- source: brewery.toml

create table reference.pools (
    pool text not null,
    site text,
    from_month text not null,
    to_month text not null,
    stage text not null,
    driver text not null,
    element text not null,
    behaviour text not null,
    applies_to text,
    applies_value text,
    standard_rate decimal(18,6),
    standard_driver_per_bbl decimal(18,6)
);

insert into reference.pools by name
select pool, site, from_month, to_month, stage, driver, element, behaviour, applies_to, applies_value, standard_rate,
    standard_driver_per_bbl
from given_pools;
