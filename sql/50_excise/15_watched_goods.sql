-- table: excise.watched_goods
-- grain: one event of a beer in a package of which some may be out of the ordinary
-- key: item, seq
-- units: packages; costs play no part and are 0
-- reads: cost.goods_events, excise.marked_layers, excise.goods_passed_on
-- rule: X5
-- source: only these need to be followed: most books have none

create table excise.watched_goods (
    item text not null,
    seq bigint not null,
    month text not null,
    kind text not null,
    document text not null,
    line bigint not null,
    qty_in decimal(18,6) not null,
    qty_out decimal(18,6) not null,
    counted_qty decimal(18,6),
    cost_in decimal(18,6) not null,
    unit_cost decimal(28,10) not null
);

insert into excise.watched_goods by name
with recursive watched as (
    select item from excise.marked_layers
    union
    select passed.to_item as item
    from watched
    join excise.goods_passed_on as passed on passed.from_item = watched.item
)
select item, seq, month, kind, document, line, qty_in, qty_out, counted_qty, 0 as cost_in, 0 as unit_cost
from cost.goods_events
semi join watched using (item);
