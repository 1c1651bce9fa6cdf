-- table: cost.sold_components
-- grain: one shipment line, restocked return line or serving-tank fill and component of its cost
-- key: kind, document, line, component
-- units: money; the components `barrels` bbl
-- reads: cost.component_layers, cost.component_feeds, cost.goods_walk, cost.goods_takings, cost.draw_components,
--   cost.shipment_costs, cost.goods_moves
-- rule: M3, C11
-- source: the same takings as the cost itself; the rounding remainder goes to the largest component, so that the components
--   add up to the cost

create table cost.sold_components (
    kind text not null,
    document text not null,
    line bigint not null,
    component text not null,
    amount decimal(18,6) not null
);

insert into cost.sold_components by name
with
layer_costs as (
    select layers.component, split_part(costs.item, chr(30), 1) as item, costs.layer, costs.layer_qty, costs.cost
    from stock_layer_costs('cost.component_layers', 'cost.component_feeds') as costs
    join cost.component_layers as layers using (item, layer)
    where costs.cost <> 0
),
taken as (
    select walk.document, walk.line, layer_costs.component,
        sum(cost_between(layer_costs.cost, takings.from_qty, takings.to_qty, layer_costs.layer_qty)) as amount
    from cost.goods_walk as walk
    join cost.goods_takings as takings using (item, seq)
    join layer_costs on layer_costs.item = takings.item and layer_costs.layer = takings.layer
    where walk.kind = 'shipped'
    group by walk.document, walk.line, layer_costs.component
),
parts as (
    select 'shipment' as kind, document, line, component, amount from taken
    union all by name
    select 'shipment' as kind, document, line, 'stock/goods short/not known' as component, short_cost as amount
    from cost.goods_moves
    where kind = 'shipped' and short_cost <> 0
    union all by name
    select kind, document, line, 'stock/goods taken back/not known' as component, cost as amount
    from cost.shipment_costs
    where kind = 'return'
    union all by name
    select 'serving_tank' as kind, name as document, 0 as line, any_kind(component) as component, sum(taken) as amount
    from cost.draw_components
    where kind = 'move'
    group by name, any_kind(component)
    union all by name
    select kind, document, line, 'barrels/packaged/none' as component, bbl as amount
    from cost.shipment_costs
    where kind = 'serving_tank'
),
trued as (
    select parts.kind, parts.document, parts.line, parts.component,
        parts.amount + case
            when parts.component not like 'barrels/%' and row_number() over (
                partition by parts.kind, parts.document, parts.line, parts.component like 'barrels/%'
                order by abs(parts.amount) desc, parts.component
            ) = 1 then costs.cost - sum(parts.amount) over (
                partition by parts.kind, parts.document, parts.line, parts.component like 'barrels/%'
            )
            else 0
        end as amount
    from parts
    join cost.shipment_costs as costs using (kind, document, line)
)
select kind, document, line, component, amount
from trued
where amount <> 0;
