-- table: cost.material_moves
-- grain: one movement of a material with its cost
-- key: item, seq
-- units: the material's stock unit; money. used_ includes what was not on hand (short_), which no layer stands behind
-- reads: cost.material_walk, cost.material_takings, cost.material_layer_costs
-- rule: C1
-- source: a use beyond the stock on hand is priced at the last receipt's unit cost, so that a figure exists

create table cost.material_moves (
    item text not null,
    seq bigint not null,
    site text not null,
    material text not null,
    date date not null,
    month text not null,
    kind text not null,
    file text not null,
    sheet text,
    row bigint not null,
    qty_in decimal(18,6) not null,
    cost_in decimal(18,6) not null,
    used_qty decimal(18,6) not null,
    used_cost decimal(18,6) not null,
    short_qty decimal(18,6) not null,
    short_cost decimal(18,6) not null,
    counted_qty decimal(18,6) not null,
    counted_cost decimal(18,6) not null,
    balance_qty decimal(18,6) not null,
    balance_cost decimal(18,6) not null,
    brew text,
    lot text,
    run text,
    account text,
    pool text,
    income decimal(18,6) not null
);

insert into cost.material_moves by name
with
taken as (
    select * from stock_taken('cost.material_takings', 'cost.material_layer_costs')
),
priced as (
    select
        walk.*,
        coalesce(taken.cost, 0) as taken_cost,
        at_price(walk.short_qty, walk.unit_cost) as short_cost,
        coalesce(at_price(walk.counted_in, walk.unit_cost), 0) as found_cost
    from cost.material_walk as walk
    left join taken using (item, seq)
)
select
    item, seq, site, material, date, month, kind, file, sheet, row,
    qty_in,
    cost_in,
    qty_out as used_qty,
    case when kind = 'use' then taken_cost + short_cost else 0 end as used_cost,
    short_qty,
    short_cost,
    coalesce(counted_in - counted_out, 0) as counted_qty,
    case when kind = 'count' then found_cost - taken_cost else 0 end as counted_cost,
    balance_qty,
    sum(cost_in + found_cost - taken_cost) over (partition by item order by seq) as balance_cost,
    brew, lot, run, account, pool, income
from priced;
