-- table: cost.pool_shares
-- grain: the share of one pool that falls on one brew, lot, run or run line
-- key: month, site, kind, pool, brew, lot, run, line
-- units: money; weight in the driver's unit
-- reads: cost.pool_months, cost.drivers
-- rule: C3, C4, C5
-- source: the rounding remainder goes to the largest part (ties: first by key)

create table cost.pool_shares (
    month text not null,
    site text not null,
    kind text not null,
    pool text not null,
    element text not null,
    brew text,
    lot text,
    run text,
    line bigint,
    weight decimal(18,6) not null,
    amount decimal(18,6) not null
);

insert into cost.pool_shares by name
with
weights as (
    select pool_months.month, pool_months.site, pool_months.kind, pool_months.pool, pool_months.element,
        pool_months.absorbed, pool_months.actual, drivers.brew, drivers.lot, drivers.run, drivers.line,
        drivers.weight
    from cost.pool_months
    join cost.drivers on drivers.month = pool_months.month and drivers.site = pool_months.site
        and drivers.stage = pool_months.stage and drivers.driver = pool_months.driver
        and applies(pool_months.applies_to, pool_months.applies_value, drivers.beer, drivers.package, drivers.form,
            drivers.vessel_kind)
    where pool_months.outcome = 'shared' and drivers.weight > 0
),
parts as (
    select *, part6(absorbed, weight, actual) as part from weights
)
select
    month, site, kind, pool, element, brew, lot, run, line, weight,
    part + case
        when row_number() over (
            partition by month, site, kind, pool order by weight desc, brew, lot, run, line
        ) = 1 then absorbed - sum(part) over (partition by month, site, kind, pool)
        else 0
    end as amount
from parts;
