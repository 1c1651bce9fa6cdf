-- table: cost.pool_months
-- grain: one amount to be shared in a month at a site: a pool, the labour of a stage that names nothing, by-products
-- key: month, site, kind, pool
-- units: money; normal and actual in the driver's unit; budget and the standards null where brewery.toml sets none
-- reads: record.expenses, record.byproducts, cost.charges, reference.pools, reference.pool_normals, cost.drivers
-- rule: C3, C4, C5
-- source: fixed cost on normal capacity, what is not absorbed is an expense (IAS 2 paragraph 13; ASC 330-10-35)

create table cost.pool_months (
    month text not null,
    site text not null,
    kind text not null,
    pool text not null,
    stage text,
    driver text,
    element text not null,
    behaviour text not null,
    applies_to text,
    applies_value text,
    normal decimal(18,6),
    actual decimal(18,6) not null,
    amount decimal(18,6) not null,
    absorbed decimal(18,6) not null,
    idle decimal(18,6) not null,
    budget decimal(18,6),
    standard_rate decimal(18,6),
    standard_driver_per_bbl decimal(18,6),
    outcome text not null
);

insert into cost.pool_months by name
with
spent as (
    select month, site, pool, sum(amount) as amount
    from (
        select month, site, pool, amount from record.expenses
        union all by name
        select month, site, pool, amount from cost.charges where pool is not null
    )
    group by month, site, pool
),
-- A pool that names the site goes before one for every site.
pools as (
    select spent.month, spent.site, spent.pool, spent.amount, pools.* exclude (pool, site, from_month, to_month),
        pool_normals.normal, pool_normals.budget
    from spent
    left join reference.pools on lower(pools.pool) = lower(spent.pool)
        and coalesce(pools.site, spent.site) = spent.site
        and spent.month between pools.from_month and pools.to_month
    left join reference.pool_normals on pool_normals.pool = pools.pool
        and pool_normals.site is not distinct from pools.site
        and pool_normals.from_month = pools.from_month
        and pool_normals.calendar_month = substr(spent.month, 6, 2)::bigint
    qualify row_number() over (
        partition by spent.month, spent.site, spent.pool order by pools.site nulls last
    ) = 1
),
shared as (
    select month, site, 'pool' as kind, pool, stage, driver, coalesce(element, 'overhead') as element,
        coalesce(behaviour, 'variable') as behaviour, applies_to, applies_value, normal, amount,
        budget, standard_rate, standard_driver_per_bbl
    from pools
    union all by name
    select month, site, 'labour' as kind, 'labour ' || stage as pool, stage,
        case stage when 'brewhouse' then 'brews' when 'cellar' then 'tank_days' else 'bbl_packaged' end as driver,
        'labour' as element, 'variable' as behaviour, sum(amount) as amount
    from cost.charges
    where source = 'labour' and name is null and stage <> 'warehouse'
    group by month, site, stage
    union all by name
    select month_of(date) as month, site, 'by-products' as kind, 'by-products' as pool, 'brewhouse' as stage,
        'grist_weight' as driver, 'ingredients' as element, 'variable' as behaviour, -sum(income) as amount
    from record.byproducts
    group by month_of(date), site
),
actuals as (
    select shared.month, shared.site, shared.kind, shared.pool, sum(drivers.weight) as actual
    from shared
    join cost.drivers on drivers.month = shared.month and drivers.site = shared.site
        and drivers.stage = shared.stage and drivers.driver = shared.driver
        and applies(shared.applies_to, shared.applies_value, drivers.beer, drivers.package, drivers.form,
            drivers.vessel_kind)
    group by shared.month, shared.site, shared.kind, shared.pool
),
rated as (
    select
        shared.*,
        coalesce(actuals.actual, 0) as actual,
        case
            when shared.stage = 'period' or shared.driver = 'none' then 'period pool'
            when coalesce(actuals.actual, 0) = 0 then 'unshared'
            else 'shared'
        end as outcome
    from shared
    left join actuals using (month, site, kind, pool)
),
absorbed as (
    select
        *,
        case
            when outcome <> 'shared' then 0
            when behaviour = 'fixed' and normal > actual then part6(amount, actual, normal)
            else amount
        end as absorbed
    from rated
)
select *, case when outcome = 'shared' then amount - absorbed else 0 end as idle
from absorbed;
