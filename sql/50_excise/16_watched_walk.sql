-- table: excise.watched_walk
-- grain: one event of watched goods with the stock after it
-- key: item, seq
-- units: packages
-- reads: excise.watched_goods
-- rule: X5
-- source: first in, first out, whatever the method of costing

create table excise.watched_walk (
    item text not null,
    seq bigint not null,
    month text not null,
    kind text not null,
    document text not null,
    line bigint not null,
    cost_in decimal(18,6) not null,
    unit_cost decimal(28,10) not null,
    balance_qty decimal(18,6) not null,
    counted_in decimal(18,6),
    taken_in decimal(18,6) not null,
    taken_out decimal(18,6) not null
);

insert into excise.watched_walk by name
select item, seq, month, kind, document, line, cost_in, unit_cost, balance_qty, counted_in, taken_in, taken_out
from stock_walk('excise.watched_goods');
