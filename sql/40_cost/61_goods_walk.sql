-- table: cost.goods_walk
-- grain: one movement of a beer in a package, with the stock on hand after it
-- key: item, seq
-- units: packages; money
-- reads: cost.goods_events
-- rule: C11
-- source: stock_walk in sql/10_reference

create table cost.goods_walk as
select * from stock_walk('cost.goods_events');
