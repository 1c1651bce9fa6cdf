-- table: cost.house_layer_costs
-- grain: one layer of the stock at an own house
-- key: item, layer
-- units: packages; money
-- reads: cost.house_layers, cost.house_feeds
-- rule: C11a
-- source: stock_layer_costs in sql/10_reference

create table cost.house_layer_costs as
select * from stock_layer_costs('cost.house_layers', 'cost.house_feeds');
