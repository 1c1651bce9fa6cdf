-- table: cost.component_arrivals
-- grain: one component of cost that joins a lot on a day from outside the cellar
-- key: none (several may come on one day)
-- units: money; the components `barrels` bbl
-- reads: cost.component_inputs, cost.lot_arrivals, cost.lot_nodes, volume.brews, volume.stage_losses, volume.inflows,
--   volume.lot_months
-- rule: M3, C7, C8
-- source: the same lots, days and shares as cost.lot_arrivals, by component instead of element

create table cost.component_arrivals (
    node bigint not null,
    element text not null,
    amount decimal(18,6) not null
);

insert into cost.component_arrivals by name
with
-- A kettle that lost abnormally hands on volume out / (volume in - allowed) of everything (C7).
from_brews as (
    select brews.site, brews.lot, brews.date, inputs.component,
        case
            when losses.volume_out_bbl = 0 then 0
            when losses.abnormal_bbl > 0
                then part6(sum(inputs.amount), losses.volume_out_bbl, losses.volume_in_bbl - losses.allowed_bbl)
            else sum(inputs.amount)
        end as amount
    from cost.component_inputs as inputs
    join volume.brews on brews.brew = inputs.brew
    join volume.stage_losses as losses on losses.stage = 'kettle' and losses.brew = inputs.brew
    group by brews.site, brews.lot, brews.date, inputs.brew, inputs.component, losses.volume_in_bbl,
        losses.volume_out_bbl, losses.allowed_bbl, losses.abnormal_bbl
),
arrivals as (
    select site, lot, date, component, amount from from_brews
    union all by name
    select site, lot, date, component, amount
    from cost.component_inputs
    where lot is not null and date is not null
    union all by name
    select inputs.site, inputs.lot, lot_months.from_day as date, inputs.component, inputs.amount
    from cost.component_inputs as inputs
    join volume.lot_months using (site, lot, month)
    where inputs.date is null
    union all by name
    select site, lot, date, 'barrels/kettle/none' as component, volume_bbl as amount
    from volume.inflows
    where source in ('opening', 'received', 'added')
)
select lot_nodes.node, arrivals.component as element, sum(arrivals.amount) as amount
from arrivals
join cost.lot_nodes using (site, lot, date)
group by lot_nodes.node, arrivals.component
union all by name
select node,
    element || case source when 'opening' then '/opening beer/not known' else '/beer bought/variable' end as element,
    amount
from cost.lot_arrivals
where source in ('opening', 'received');
