-- table: cost.goods_feeds
-- grain: one part of a layer that feeds another: repacked into another package, or carried over the month (average)
-- key: item, layer, from_item, from_layer, from_qty
-- units: packages
-- reads: cost.goods_walk, cost.goods_layers, cost.goods_takings
-- rule: C11, C11a
-- source: repacking moves cost from one package to another, no beer is made

create table cost.goods_feeds as
select item, layer, from_item, from_layer, from_qty, to_qty from stock_carries('cost.goods_layers')
union all by name
select into_walk.item, layers.layer, takings.item as from_item, takings.layer as from_layer, takings.from_qty,
    takings.to_qty
from cost.goods_walk as out_walk
join cost.goods_walk as into_walk on into_walk.kind = 'repacked in' and into_walk.site = out_walk.site
    and into_walk.file = out_walk.file and into_walk.sheet is not distinct from out_walk.sheet and into_walk.row = out_walk.row
join cost.goods_takings as takings on takings.item = out_walk.item and takings.seq = out_walk.seq
join cost.goods_layers as layers on layers.item = into_walk.item
    and (layers.layer = into_walk.seq or (select goods_method from reference.settings) = 'average')
    and layers.month = into_walk.month
where out_walk.kind = 'repacked out';
