-- table: cost.material_takings
-- grain: one part of a layer taken by one use or count
-- key: item, layer, seq
-- units: the material's stock unit, measured from the start of the layer
-- reads: cost.material_walk, cost.material_layers, reference.settings
-- rule: C1
-- source: stock_takings in sql/10_reference

create table cost.material_takings as
select *
from stock_takings(
    'cost.material_walk', 'cost.material_layers', (select materials_method from reference.settings)
);
