-- table: cost.material_layer_costs
-- grain: one layer of a material's stock
-- key: item, layer
-- units: the material's stock unit; money
-- reads: cost.material_layers, cost.material_feeds
-- rule: C1
-- source: stock_layer_costs in sql/10_reference

create table cost.material_layer_costs as
select * from stock_layer_costs('cost.material_layers', 'cost.material_feeds');
