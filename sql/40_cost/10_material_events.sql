-- table: cost.material_events
-- grain: one movement of a material: opening, receipt, use or count
-- key: item, seq (item: one material at one site)
-- units: quantity in the material's stock unit; money
-- reads: record.opening_materials, cost.receipt_costs, record.uses, record.counts, reference.settings
-- rule: C1, C16
-- source: order on one day: receipts by document, uses by the name of their brew, lot or run, then the count; then file,
--   sheet and row

create table cost.material_events (
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
    qty_out decimal(18,6) not null,
    counted_qty decimal(18,6),
    cost_in decimal(18,6) not null,
    priced boolean not null,
    unit_cost decimal(28,10) not null,
    brew text,
    lot text,
    run text,
    account text,
    pool text,
    income decimal(18,6) not null
);

insert into cost.material_events by name
with
moved as (
    select opening_materials.site, opening_materials.material, settings.first_day as date, 'opening' as kind,
        0 as day_order, '' as name, file, sheet, row, stock_qty as qty_in, 0::decimal(18,6) as qty_out,
        cost as cost_in
    from record.opening_materials
    cross join reference.settings
    union all by name
    select site, material, date, 'receipt' as kind, 1 as day_order, coalesce(document, '') as name, file, sheet, row,
        stock_qty as qty_in, 0::decimal(18,6) as qty_out, cost as cost_in
    from cost.receipt_costs
    union all by name
    select site, material, date, 'use' as kind, 2 as day_order,
        coalesce(brew, lot, run, account, pool, '') as name, file, sheet, row,
        0::decimal(18,6) as qty_in, stock_qty as qty_out, 0::decimal(18,6) as cost_in,
        brew, lot, run, account, pool, income
    from record.uses
),
-- A count taken later is rolled back to the day it stands for: less what came in between, plus what went out.
counts as (
    select
        counts.site, counts.material, counts.date, 'count' as kind, 3 as day_order, '' as name,
        counts.file, counts.sheet, counts.row,
        0::decimal(18,6) as qty_in, 0::decimal(18,6) as qty_out, 0::decimal(18,6) as cost_in,
        greatest(counts.stock_qty - coalesce(sum(moved.qty_in - moved.qty_out), 0), 0)::decimal(18,6) as counted_qty
    from record.counts
    left join moved on moved.site = counts.site and moved.material = counts.material
        and moved.date > counts.date and moved.date <= counts.counted_on
    where counts.material is not null
    group by counts.site, counts.material, counts.date, counts.file, counts.sheet, counts.row, counts.stock_qty
),
events as (
    select * from moved
    union all by name
    select * from counts
),
ordered as (
    select
        *,
        site || chr(31) || material as item,
        row_number() over (
            partition by site, material order by date, day_order, name, file, sheet nulls first, row
        ) as seq
    from events
),
-- The unit cost of the last receipt (or opening) that has a cost; it prices estimates, shortages and what a count adds.
with_last_cost as (
    select
        *,
        coalesce(last_value(
            case when qty_in > 0 and cost_in is not null then divide10(cost_in, qty_in) end ignore nulls
        ) over (partition by item order by seq), 0) as unit_cost
    from ordered
)
select
    item,
    seq,
    site,
    material,
    date,
    month_of(date) as month,
    kind,
    file,
    sheet,
    row,
    qty_in,
    qty_out,
    counted_qty,
    coalesce(cost_in, at_price(qty_in, unit_cost)) as cost_in,
    cost_in is not null as priced,
    unit_cost,
    brew,
    lot,
    run,
    account,
    pool,
    coalesce(income, 0) as income
from with_last_cost;
