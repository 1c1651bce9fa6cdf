-- table: cost.house_takings
-- grain: one part of a layer that a return or a count took
-- key: item, layer, seq
-- units: packages; money
-- reads: cost.house_walk, cost.house_layers, reference.settings
-- rule: C11a
-- source: stock_takings in sql/10_reference

create table cost.house_takings as
select * from stock_takings('cost.house_walk', 'cost.house_layers', (select goods_method from reference.settings));
