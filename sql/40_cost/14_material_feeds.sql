-- table: cost.material_feeds
-- grain: one layer that another carries on into (average only)
-- key: item, layer
-- units: the material's stock unit
-- reads: cost.material_layers
-- rule: C1
-- source: stock_carries in sql/10_reference

create table cost.material_feeds as
select * from stock_carries('cost.material_layers');
