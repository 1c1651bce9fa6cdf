-- table: cost.goods_takings
-- grain: one part of a layer taken by one shipment, repack or count
-- key: item, layer, seq
-- units: packages, measured from the start of the layer
-- reads: cost.goods_walk, cost.goods_layers, reference.settings
-- rule: C11
-- source: stock_takings in sql/10_reference

create table cost.goods_takings as
select *
from stock_takings('cost.goods_walk', 'cost.goods_layers', (select goods_method from reference.settings));
