-- table: cost.material_layers
-- grain: one layer of a material's stock: an inflow (fifo) or a month (average)
-- key: item, layer
-- units: the material's stock unit; money
-- reads: cost.material_walk, reference.settings
-- rule: C1
-- source: IAS 2 paragraph 27: first in first out, or the weighted average of the period

create table cost.material_layers as
select * from stock_layers('cost.material_walk', (select materials_method from reference.settings));
