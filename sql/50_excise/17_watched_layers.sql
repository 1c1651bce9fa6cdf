-- table: excise.watched_layers
-- grain: one inflow of watched goods
-- key: item, layer
-- units: packages
-- reads: excise.watched_walk
-- rule: X5
-- source: first in, first out, whatever the method of costing

create table excise.watched_layers (
    item text not null,
    layer bigint not null,
    month text not null,
    layer_qty decimal(18,6) not null
);

insert into excise.watched_layers by name
select item, layer, month, layer_qty
from stock_layers('excise.watched_walk', 'fifo');
