-- table: cost.component_inputs
-- grain: one amount put into a brew, lot or run (or one line of it), with the component of cost it is
-- key: none (several may be alike)
-- units: money; component = element / kind / behaviour. The components `barrels` are bbl: they are followed with the
--   money to see how many barrels a barrel sold began as
-- reads: cost.charges, cost.pool_shares, cost.pool_months, volume.stage_losses, record.materials
-- rule: M3
-- source: what varies with the beer made: materials, labour (C4), variable pools; what does not: fixed pools (C3)

create table cost.component_inputs (
    month text not null,
    site text not null,
    date date,
    brew text,
    lot text,
    run text,
    line bigint,
    component text not null,
    amount decimal(18,6) not null
);

insert into cost.component_inputs by name
select charges.month, charges.site, charges.date, charges.brew, charges.lot, charges.run,
    case
        when charges.source = 'labour' then 'labour/wages/variable'
        when charges.run is not null then 'packaging/materials/variable'
        else 'ingredients/' || coalesce(materials.kind, 'other') || '/variable'
    end as component,
    charges.amount
from cost.charges
left join record.materials using (material)
where charges.charged
union all by name
select pool_shares.month, pool_shares.site, pool_shares.brew, pool_shares.lot, pool_shares.run, pool_shares.line,
    pool_shares.element || '/' || case pool_shares.kind
        when 'labour' then 'wages/variable'
        when 'by-products' then 'by-products/variable'
        else 'pools/' || pool_months.behaviour
    end as component,
    pool_shares.amount
from cost.pool_shares
join cost.pool_months using (month, site, kind, pool)
union all by name
select month, site, brew, 'barrels/kettle/none' as component, volume_in_bbl as amount
from volume.stage_losses
where stage = 'kettle';
