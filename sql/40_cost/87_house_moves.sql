-- table: cost.house_moves
-- grain: one delivery to an own house, return from it or count there with its cost
-- key: item, seq
-- units: packages, money; in is positive
-- reads: cost.house_walk, cost.house_takings, cost.house_layer_costs
-- rule: C11a
-- source: none where own houses' beer is expensed on delivery

create table cost.house_moves (
    item text not null,
    seq bigint not null,
    account text not null,
    beer text not null,
    package text not null,
    date date not null,
    month text not null,
    kind text not null,
    file text not null,
    sheet text,
    row bigint not null,
    units decimal(18,6) not null,
    cost decimal(18,6) not null,
    balance_units decimal(18,6) not null
);

insert into cost.house_moves by name
with
taken as (
    select * from stock_taken('cost.house_takings', 'cost.house_layer_costs')
)
select walk.item, walk.seq, walk.account, walk.beer, walk.package, walk.date, walk.month, walk.kind,
    walk.file, walk.sheet, walk.row,
    walk.taken_in - walk.taken_out as units,
    walk.cost_in + coalesce(at_price(walk.counted_in, walk.unit_cost), 0) - coalesce(taken.cost, 0) as cost,
    walk.balance_qty as balance_units
from cost.house_walk as walk
left join taken using (item, seq);
