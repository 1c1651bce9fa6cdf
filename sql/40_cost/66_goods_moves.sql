-- table: cost.goods_moves
-- grain: one movement of a beer in a package with its barrels and cost
-- key: item, seq
-- units: packages, bbl, money. units, bbl and cost are signed: in is positive; short_: shipped and not on hand
-- reads: cost.goods_walk, cost.goods_takings, cost.goods_layer_costs, cost.goods_feeds
-- rule: C11, K3
-- source: a movement's barrels are the rounded balance after it less the rounded balance before it

create table cost.goods_moves (
    item text not null,
    seq bigint not null,
    site text not null,
    beer text not null,
    package text not null,
    date date not null,
    month text not null,
    kind text not null,
    document text not null,
    line bigint not null,
    file text not null,
    sheet text,
    row bigint not null,
    units decimal(18,6) not null,
    bbl decimal(18,6) not null,
    cost decimal(18,6) not null,
    short_units decimal(18,6) not null,
    short_bbl decimal(18,6) not null,
    short_cost decimal(18,6) not null,
    balance_units decimal(18,6) not null,
    balance_bbl decimal(18,6) not null,
    balance_cost decimal(18,6) not null
);

insert into cost.goods_moves by name
with
taken as (
    select * from stock_taken('cost.goods_takings', 'cost.goods_layer_costs')
),
-- What a repack brought in is what its counterpart took out.
repacked as (
    select into_walk.item, into_walk.seq, taken.cost
    from cost.goods_walk as into_walk
    join cost.goods_walk as out_walk on out_walk.kind = 'repacked out' and out_walk.site = into_walk.site
        and out_walk.file = into_walk.file and out_walk.sheet is not distinct from into_walk.sheet
        and out_walk.row = into_walk.row
    join taken on taken.item = out_walk.item and taken.seq = out_walk.seq
    where into_walk.kind = 'repacked in'
),
priced as (
    select
        walk.*,
        barrels(walk.balance_qty, walk.bbl_numerator, walk.bbl_denominator) as balance_bbl,
        coalesce(taken.cost, 0) as taken_cost,
        coalesce(repacked.cost, 0) as repacked_cost,
        at_price(walk.short_qty, walk.unit_cost) as short_cost,
        coalesce(at_price(walk.counted_in, walk.unit_cost), 0) as found_cost
    from cost.goods_walk as walk
    left join taken using (item, seq)
    left join repacked using (item, seq)
),
moved as (
    select *, cost_in + repacked_cost + found_cost - taken_cost as cost
    from priced
)
select
    item, seq, site, beer, package, date, month, kind, document, line, file, sheet, row,
    taken_in - taken_out as units,
    balance_bbl - coalesce(lag(balance_bbl) over so_far, 0) as bbl,
    cost,
    short_qty as short_units,
    barrels(short_qty, bbl_numerator, bbl_denominator) as short_bbl,
    short_cost,
    balance_qty as balance_units,
    balance_bbl,
    sum(cost) over so_far as balance_cost
from moved
window so_far as (partition by item order by seq);
