-- table: cost.house_events
-- grain: one delivery to an own house, return from it or count there; none where own houses' beer is expensed on delivery
-- key: item, seq (item: one beer in one package at one own house)
-- units: packages; money
-- reads: cost.shipment_costs, record.returns, record.house_counts, record.accounts, reference.settings
-- rule: C11a, C16
-- source: brewery.toml own_houses = counted: a delivery within the legal entity stays its stock until a count relieves it.
--   A delivery enters at the cost it left the brewery at; what a count finds over enters at the last delivery's unit cost

create table cost.house_events (
    item text not null,
    seq bigint not null,
    account text not null,
    beer text not null,
    package text not null,
    date date not null,
    month text not null,
    kind text not null,
    qty_in decimal(18,6) not null,
    qty_out decimal(18,6) not null,
    counted_qty decimal(18,6),
    cost_in decimal(18,6) not null,
    unit_cost decimal(28,10) not null,
    file text not null,
    sheet text,
    row bigint not null
);

insert into cost.house_events by name
with
houses as (
    select account
    from record.accounts
    where ownership = 'same_entity' and (select own_houses from reference.settings) = 'counted'
),
moved as (
    select account, beer, package, date, 'delivered' as kind, 0 as day_order, document, line, units as qty_in,
        0 as qty_out, cost as cost_in, file, sheet, row
    from cost.shipment_costs
    where kind = 'shipment' and of_goods_sold and account in (select account from houses)
    union all by name
    select account, beer, package, date, 'returned' as kind, 1 as day_order, document, line, 0 as qty_in,
        units as qty_out, 0 as cost_in, file, sheet, row
    from record.returns
    where package is not null and account in (select account from houses)
),
-- A count taken later is rolled back to the day it stands for.
counts as (
    select counts.account, counts.beer, counts.package, counts.date, 'counted' as kind, 2 as day_order,
        concat_ws(' ', counts.file, counts.sheet) as document, counts.row as line,
        counts.file, counts.sheet, counts.row, 0 as qty_in, 0 as qty_out,
        0 as cost_in, greatest(counts.units - coalesce(sum(moved.qty_in - moved.qty_out), 0), 0) as counted_qty
    from record.house_counts as counts
    left join moved on moved.account = counts.account and moved.beer = counts.beer and moved.package = counts.package
        and moved.date > counts.date and moved.date <= counts.counted_on
    where counts.account in (select account from houses)
    group by counts.account, counts.beer, counts.package, counts.date, counts.file, counts.sheet, counts.row, counts.units
),
events as (
    select * from moved
    union all by name
    select * from counts
),
ordered as (
    select * exclude (day_order, document, line),
        account || chr(31) || beer || chr(31) || package as item,
        row_number() over (
            partition by account, beer, package order by date, day_order, document, line, file, sheet nulls first, row
        ) as seq,
        month_of(date) as month
    from events
)
select *,
    coalesce(last_value(case when qty_in > 0 then divide10(cost_in, qty_in) end ignore nulls) over (
        partition by item order by seq
    ), 0) as unit_cost
from ordered;
