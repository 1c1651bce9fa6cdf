-- table: cost.shipped_shares
-- grain: one layer of goods
-- key: item, layer
-- units: share of the layer that was shipped so far, 0 to 1
-- reads: cost.goods_layers, cost.goods_walk, cost.goods_takings, cost.goods_feeds, record.shipments
-- rule: V8
-- source: the takings of C11: by fifo the layer is one run line; by average it is a month of the beer in its package, and every run
--   line of the month has the month's share. What was repacked or carried over is shipped in the share of the layer it went into

create table cost.shipped_shares (
    item text not null,
    layer bigint not null,
    shipped_share decimal(28,10) not null
);

insert into cost.shipped_shares by name
with recursive
-- Beer that was destroyed or lost on the way out was not shipped to anyone.
shipped as (
    select takings.item, takings.layer, sum(takings.to_qty - takings.from_qty) as shipped_qty
    from cost.goods_takings as takings
    join cost.goods_walk as walk on walk.item = takings.item and walk.seq = takings.seq and walk.kind = 'shipped'
    join record.shipments on shipments.document = walk.document and shipments.line = walk.line
        and shipments.purpose not in ('destroyed', 'casualty')
    group by takings.item, takings.layer
),
-- From each layer to all those its packages went on into, a share of the first at each step.
reached(item, layer, in_item, in_layer, share) as (
    select item, layer, item, layer, 1::double from cost.goods_layers
    union all
    select reached.item, reached.layer, feeds.item, feeds.layer,
        sum(reached.share * (feeds.to_qty - feeds.from_qty)::double / from_layers.layer_qty::double)
    from reached
    join cost.goods_feeds as feeds on feeds.from_item = reached.in_item and feeds.from_layer = reached.in_layer
    join cost.goods_layers as from_layers on from_layers.item = feeds.from_item
        and from_layers.layer = feeds.from_layer and from_layers.layer_qty > 0
    group by all
)
select reached.item, reached.layer,
    least(sum(reached.share * coalesce(shipped.shipped_qty, 0)::double / nullif(layers.layer_qty, 0)::double), 1)
        ::decimal(28,10) as shipped_share
from reached
join cost.goods_layers as layers on layers.item = reached.in_item and layers.layer = reached.in_layer
left join shipped on shipped.item = reached.in_item and shipped.layer = reached.in_layer
where layers.layer_qty > 0
group by reached.item, reached.layer;
