-- table: cost.sold_components
-- grain: one component of the cost of one beer in one package sold to one account in a month
-- key: month, beer, package, account, component
-- units: money; the components `barrels` bbl
-- reads: cost.component_layers, cost.component_feeds, cost.goods_walk, cost.goods_takings, cost.draw_components,
--   cost.shipment_costs, cost.goods_moves
-- rule: M3, C11
-- source: the same takings as the cost itself; the rounding remainder goes to the largest component, so that the components
--   add up to the cost

create table cost.sold_components (
    month text not null,
    beer text,
    package text not null,
    account text,
    component text not null,
    amount decimal(18,6) not null
);

insert into cost.sold_components by name
with
-- Numbered, since there are many lines and pieces to each.
sales as materialized (
    select month, beer, package, account, sum(cost) as cost, row_number() over () as sale
    from cost.shipment_costs
    where of_goods_sold
    group by month, beer, package, account
),
lines as materialized (
    select costs.kind, costs.document, costs.line, costs.bbl, costs.cost, sales.sale
    from cost.shipment_costs as costs
    join sales on sales.month = costs.month and sales.beer is not distinct from costs.beer
        and sales.package = costs.package and sales.account is not distinct from costs.account
    where costs.of_goods_sold
),
layer_costs as (
    select split_part(item, chr(30), 1) as item, split_part(item, chr(30), 2) as component, layer, layer_qty, cost
    from stock_layer_costs('cost.component_layers', 'cost.component_feeds')
    where cost <> 0
),
pieces as (
    select lines.sale, takings.item, takings.layer, takings.from_qty, takings.to_qty
    from cost.goods_walk as walk
    join lines on lines.kind = 'shipment' and lines.document = walk.document and lines.line = walk.line
    join cost.goods_takings as takings using (item, seq)
    where walk.kind = 'shipped'
),
parts as (
    select pieces.sale, costs.component,
        sum(cost_between(costs.cost, pieces.from_qty, pieces.to_qty, costs.layer_qty)) as amount
    from pieces
    join layer_costs as costs using (item, layer)
    group by pieces.sale, costs.component
    union all by name
    select lines.sale, 'stock/goods short/not known' as component, sum(moves.short_cost) as amount
    from cost.goods_moves as moves
    join lines on lines.kind = 'shipment' and lines.document = moves.document and lines.line = moves.line
    where moves.kind = 'shipped' and moves.short_cost <> 0
    group by lines.sale
    union all by name
    select sale, 'stock/goods taken back/not known' as component, sum(cost) as amount
    from lines
    where kind = 'return'
    group by sale
    union all by name
    select lines.sale, any_kind(draws.component) as component, sum(draws.taken) as amount
    from cost.draw_components as draws
    join lines on draws.kind = 'move' and lines.kind = 'serving_tank' and lines.document = draws.name
    group by lines.sale, any_kind(draws.component)
    union all by name
    select sale, 'barrels/packaged/none' as component, sum(bbl) as amount
    from lines
    where kind = 'serving_tank'
    group by sale
),
trued as (
    select sales.month, sales.beer, sales.package, sales.account, parts.component,
        parts.amount + case
            when parts.component not like 'barrels/%' and row_number() over (
                partition by parts.sale, parts.component like 'barrels/%'
                order by abs(parts.amount) desc, parts.component
            ) = 1 then sales.cost - sum(parts.amount) over (
                partition by parts.sale, parts.component like 'barrels/%'
            )
            else 0
        end as amount
    from parts
    join sales using (sale)
)
select month, beer, package, account, component, sum(amount) as amount
from trued
group by month, beer, package, account, component
having sum(amount) <> 0;
