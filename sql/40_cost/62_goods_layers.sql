-- table: cost.goods_layers
-- grain: one layer of goods: an inflow (fifo) or a month (average)
-- key: item, layer
-- units: packages; money
-- reads: cost.goods_walk, reference.settings
-- rule: C11
-- source: IAS 2 paragraph 27: first in first out, or the weighted average of the period

create table cost.goods_layers as
select * from stock_layers('cost.goods_walk', (select goods_method from reference.settings));
