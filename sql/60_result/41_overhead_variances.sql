-- table: result.overhead_variances
-- grain: one pool at a site in a month in which something was spent, if brewery.toml sets its budget or its standard rate
-- key: month, site, pool
-- units: drivers in the driver's unit; bbl; money, positive = more was spent than the standard. budget: of a variable pool what
--   the actual driver should have cost. efficiency is null for a fixed pool, volume for a variable one
-- reads: cost.pool_months, cost.drivers
-- rule: C13
-- source: fixed: spending = actual - budget, volume = budget - applied, where applied = budget / normal driver * the driver
--   that the barrels made should take (Saylor Academy 2012, Managerial Accounting, 10.8); variable: spending = actual - actual
--   driver * standard rate, efficiency = (actual - standard driver) * standard rate (10.5; OpenStax, Principles of Accounting 2,
--   8.4). Without a standard driver a barrel the actual driver is the standard. Nothing is booked: what beer carries is C3's

create table result.overhead_variances (
    month text not null,
    site text not null,
    pool text not null,
    behaviour text not null,
    driver text not null,
    made_bbl decimal(18,6) not null,
    actual_driver decimal(18,6) not null,
    standard_driver decimal(18,6) not null,
    standard_rate decimal(28,10) not null,
    actual_cost decimal(18,6) not null,
    budget decimal(18,6) not null,
    applied decimal(18,6) not null,
    spending_variance decimal(18,6) not null,
    efficiency_variance decimal(18,6),
    volume_variance decimal(18,6),
    under_applied decimal(18,6) not null,
    primary key (month, site, pool)
);

insert into result.overhead_variances by name
with
planned as (
    select * from cost.pool_months where kind = 'pool' and (budget is not null or standard_rate is not null)
),
-- Barrels packaged for a pool of packaging, barrels brewed for any other; a kind of tank tells no barrels apart.
made as (
    select planned.month, planned.site, planned.pool, sum(drivers.weight) as made_bbl
    from planned
    join cost.drivers on drivers.month = planned.month and drivers.site = planned.site
        and drivers.driver = case planned.stage when 'packaging' then 'bbl_packaged' else 'bbl_brewed' end
        and applies(nullif(planned.applies_to, 'vessel_kind'), planned.applies_value, drivers.beer, drivers.package,
            drivers.form, drivers.vessel_kind)
    group by planned.month, planned.site, planned.pool
),
standard as (
    select planned.month, planned.site, planned.pool, planned.behaviour, planned.driver, planned.actual as actual_driver,
        planned.normal, planned.amount as actual_cost, planned.budget as planned_cost,
        coalesce(made.made_bbl, 0) as made_bbl,
        coalesce(planned.standard_rate::decimal(28,10), divide10(planned.budget, planned.normal)) as standard_rate,
        case when planned.standard_driver_per_bbl is null then planned.actual
            else at_price(coalesce(made.made_bbl, 0), planned.standard_driver_per_bbl) end as standard_driver
    from planned
    left join made using (month, site, pool)
),
applied as (
    select *,
        coalesce(planned_cost, at_price(actual_driver, standard_rate)) as budget,
        case when planned_cost is null then at_price(standard_driver, standard_rate)
            else part6(planned_cost, standard_driver, normal) end as applied
    from standard
)
select * exclude (normal, planned_cost),
    actual_cost - budget as spending_variance,
    case when planned_cost is null then budget - applied end as efficiency_variance,
    case when planned_cost is not null then budget - applied end as volume_variance,
    actual_cost - applied as under_applied
from applied;
