-- table: cost.goods_layer_costs
-- grain: one layer of goods
-- key: item, layer
-- units: packages; money
-- reads: cost.goods_layers, cost.goods_feeds
-- rule: C11, C11a
-- source: stock_layer_costs in sql/10_reference

create table cost.goods_layer_costs as
select * from stock_layer_costs('cost.goods_layers', 'cost.goods_feeds');
