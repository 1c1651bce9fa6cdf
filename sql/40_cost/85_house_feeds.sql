-- table: cost.house_feeds
-- grain: one layer that another carries on into (average only)
-- key: item, layer
-- units: packages; money
-- reads: cost.house_layers
-- rule: C11a
-- source: stock_carries in sql/10_reference

create table cost.house_feeds as
select * from stock_carries('cost.house_layers');
