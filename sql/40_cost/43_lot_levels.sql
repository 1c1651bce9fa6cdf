-- table: cost.lot_levels
-- grain: one lot on one day, and how many steps of feeding lie before it
-- key: node
-- units: steps
-- reads: cost.lot_nodes, cost.lot_draws
-- rule: C8, C12
-- source: the longest chain of days and transfers that ends here; rings were left out in volume.left_out

create table cost.lot_levels (
    node bigint primary key,
    level bigint not null
);

insert into cost.lot_levels by name
with recursive
feeds as (
    select before_node as from_node, node from cost.lot_nodes where before_node is not null
    union
    select node as from_node, to_node as node from cost.lot_draws where to_node is not null
),
reached(node, level) as (
    select lot_nodes.node, 0::bigint
    from cost.lot_nodes
    anti join feeds on feeds.node = lot_nodes.node
    union all
    select feeds.node, reached.level + 1
    from reached
    join feeds on feeds.from_node = reached.node
    group by all
)
select node, max(level) as level
from reached
group by node;
