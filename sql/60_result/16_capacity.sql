-- table: result.capacity
-- grain: one fixed pool at a site in a month
-- key: month, site, pool
-- units: normal and actual in the driver's unit; money
-- reads: cost.pool_months
-- rule: C3
-- source: IAS 2 paragraph 13; ASC 330-10-35: what normal capacity does not absorb is an expense

create table result.capacity (
    month text not null,
    site text not null,
    pool text not null,
    driver text not null,
    normal decimal(18,6) not null,
    actual decimal(18,6) not null,
    used_pct decimal(18,6) not null,
    amount decimal(18,6) not null,
    absorbed decimal(18,6) not null,
    idle decimal(18,6) not null,
    primary key (month, site, pool)
);

insert into result.capacity by name
select month, site, pool, driver, normal, actual, part6(100, actual, normal) as used_pct, amount, absorbed, idle
from cost.pool_months
where kind = 'pool' and behaviour = 'fixed' and normal is not null;
