-- table: result.material_months
-- grain: one month, site and material
-- key: month, site, material
-- units: quantity in the stock unit `unit`; money
-- reads: cost.material_moves, record.material_units, record.months
-- rule: C1
-- source: opening + correction + received - used + counted = closing

create table result.material_months (
    month text not null,
    site text not null,
    material text not null,
    unit text not null,
    opening_qty decimal(18,6) not null,
    opening_cost decimal(18,6) not null,
    correction_qty decimal(18,6) not null,
    correction_cost decimal(18,6) not null,
    received_qty decimal(18,6) not null,
    received_cost decimal(18,6) not null,
    used_qty decimal(18,6) not null,
    used_cost decimal(18,6) not null,
    counted_qty decimal(18,6) not null,
    counted_cost decimal(18,6) not null,
    closing_qty decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    primary key (month, site, material)
);

insert into result.material_months by name
with
items as (
    select item, any_value(site) as site, any_value(material) as material, min(month) as from_month
    from cost.material_moves
    group by item
),
monthly as (
    select
        item, month,
        sum(qty_in) filter (where kind = 'opening') as opened_qty,
        sum(cost_in) filter (where kind = 'opening') as opened_cost,
        sum(qty_in) filter (where kind = 'receipt') as received_qty,
        sum(cost_in) filter (where kind = 'receipt') as received_cost,
        sum(used_qty) as used_qty,
        sum(used_cost) as used_cost,
        sum(counted_qty) as counted_qty,
        sum(counted_cost) as counted_cost,
        arg_max(balance_qty, seq) as closing_qty,
        arg_max(balance_cost, seq) as closing_cost
    from cost.material_moves
    group by item, month
),
filled as (
    select
        items.item, items.site, items.material, months.month,
        monthly.* exclude (item, month, closing_qty, closing_cost),
        -- A month in which nothing moved closes as the one before it.
        coalesce(last_value(monthly.closing_qty ignore nulls) over so_far, 0) as closing_qty,
        coalesce(last_value(monthly.closing_cost ignore nulls) over so_far, 0) as closing_cost
    from items
    join record.months on months.month >= items.from_month
    left join monthly on monthly.item = items.item and monthly.month = months.month
    window so_far as (partition by items.item order by months.month)
)
select
    filled.month, filled.site, filled.material, coalesce(kept.stock_unit, 'unit not known') as unit,
    coalesce(filled.opened_qty, 0) + coalesce(lag(filled.closing_qty) over before, 0) as opening_qty,
    coalesce(filled.opened_cost, 0) + coalesce(lag(filled.closing_cost) over before, 0) as opening_cost,
    0 as correction_qty,
    0 as correction_cost,
    coalesce(filled.received_qty, 0) as received_qty,
    coalesce(filled.received_cost, 0) as received_cost,
    coalesce(filled.used_qty, 0) as used_qty,
    coalesce(filled.used_cost, 0) as used_cost,
    coalesce(filled.counted_qty, 0) as counted_qty,
    coalesce(filled.counted_cost, 0) as counted_cost,
    filled.closing_qty,
    filled.closing_cost
from filled
left join record.material_units as kept using (material)
window before as (partition by filled.item order by filled.month);
