-- table: cost.house_layers
-- grain: one layer of the stock at an own house: an inflow (fifo) or a month (average)
-- key: item, layer
-- units: packages; money
-- reads: cost.house_walk, reference.settings
-- rule: C11a
-- source: stock_layers in sql/10_reference

create table cost.house_layers as
select * from stock_layers('cost.house_walk', (select goods_method from reference.settings));
