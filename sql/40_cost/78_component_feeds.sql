-- table: cost.component_feeds
-- grain: one part of a layer that feeds another, by component of cost
-- key: item, layer, from_item, from_layer, from_qty
-- units: packages
-- reads: cost.goods_feeds, cost.component_layers
-- rule: M3, C11, C11a
-- source: a repack takes every component of what it is made from in the same share

create table cost.component_feeds as
select feeds.item || chr(30) || components.component as item, feeds.layer,
    feeds.from_item || chr(30) || components.component as from_item, feeds.from_layer, feeds.from_qty, feeds.to_qty
from cost.goods_feeds as feeds
cross join (select distinct component from cost.component_layers) as components;
