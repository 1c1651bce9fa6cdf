-- table: cost.component_layers
-- grain: one layer of goods and component of cost
-- key: item, layer (item: the goods' item and the component)
-- units: packages; money; the components `barrels` bbl
-- reads: cost.goods_walk, cost.goods_layers, cost.run_components, reference.settings
-- rule: M3, C11
-- source: materials are no longer told apart here (any_kind): a run's cost says them. Goods that were not packaged here (opening stock, beer bought packaged, goods taken back or found at a count)
--   have a component of their own: what they are made of is not known

create table cost.component_layers (
    item text not null,
    layer bigint not null,
    component text not null,
    layer_qty decimal(18,6) not null,
    own_cost decimal(18,6) not null
);

insert into cost.component_layers by name
with
entered as (
    select walk.item, walk.seq, walk.month, any_kind(parts.component) as component, sum(parts.amount) as amount
    from cost.goods_walk as walk
    join cost.run_components as parts on parts.run = walk.document and parts.line = walk.line
    where walk.kind = 'packaged'
    group by walk.item, walk.seq, walk.month, any_kind(parts.component)
    union all by name
    select item, seq, month,
        case kind
            when 'opening' then 'stock/opening goods/not known'
            when 'received' then 'stock/goods bought/variable'
            when 'restocked' then 'stock/goods taken back/not known'
            else 'stock/goods found/not known'
        end as component,
        cost_in + coalesce(at_price(counted_in, unit_cost), 0) as amount
    from cost.goods_walk
    where kind <> 'packaged' and taken_in > 0
),
own as (
    select layers.item, layers.layer, entered.component, sum(entered.amount) as amount
    from entered
    cross join reference.settings
    join cost.goods_layers as layers on layers.item = entered.item and layers.month = entered.month
        and (settings.goods_method = 'average' or layers.layer = entered.seq)
    group by layers.item, layers.layer, entered.component
),
components as (
    select distinct component from entered
)
select layers.item || chr(30) || components.component as item, layers.layer, components.component, layers.layer_qty,
    coalesce(own.amount, 0) as own_cost
from cost.goods_layers as layers
cross join components
left join own on own.item = layers.item and own.layer = layers.layer and own.component = components.component;
