-- table: cost.material_walk
-- grain: one movement of a material, with the stock on hand after it
-- key: item, seq
-- units: the material's stock unit; money
-- reads: cost.material_events
-- rule: C1
-- source: stock_walk in sql/10_reference

create table cost.material_walk as
select * from stock_walk('cost.material_events');
