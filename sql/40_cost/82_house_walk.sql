-- table: cost.house_walk
-- grain: one movement of a beer in a package at an own house, with the stock there after it
-- key: item, seq
-- units: packages; money
-- reads: cost.house_events
-- rule: C11a
-- source: stock_walk in sql/10_reference

create table cost.house_walk as
select * from stock_walk('cost.house_events');
