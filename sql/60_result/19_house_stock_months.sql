-- table: result.house_stock_months
-- grain: one beer in one package at one own house in a month; none where own houses' beer is expensed on delivery
-- key: month, account, beer, package
-- units: packages; money. used_ is what a count found gone, less what it found over
-- reads: cost.house_moves, record.months
-- rule: C11a
-- source: opening + correction + delivered - returned - used = closing

create table result.house_stock_months (
    month text not null,
    account text not null,
    beer text not null,
    package text not null,
    opening_units decimal(18,6) not null,
    opening_cost decimal(18,6) not null,
    correction_units decimal(18,6) not null,
    correction_cost decimal(18,6) not null,
    delivered_units decimal(18,6) not null,
    delivered_cost decimal(18,6) not null,
    returned_units decimal(18,6) not null,
    returned_cost decimal(18,6) not null,
    used_units decimal(18,6) not null,
    used_cost decimal(18,6) not null,
    closing_units decimal(18,6) not null,
    closing_cost decimal(18,6) not null
);

insert into result.house_stock_months by name
with
monthly as (
    select item, month,
        coalesce(sum(units) filter (where kind = 'delivered'), 0) as delivered_units,
        coalesce(sum(cost) filter (where kind = 'delivered'), 0) as delivered_cost,
        coalesce(-sum(units) filter (where kind = 'returned'), 0) as returned_units,
        coalesce(-sum(cost) filter (where kind = 'returned'), 0) as returned_cost,
        coalesce(-sum(units) filter (where kind = 'counted'), 0) as used_units,
        coalesce(-sum(cost) filter (where kind = 'counted'), 0) as used_cost,
        arg_max(balance_units, seq) as balance_units
    from cost.house_moves
    group by item, month
),
items as (
    select item, any_value(account) as account, any_value(beer) as beer, any_value(package) as package,
        min(month) as from_month
    from cost.house_moves
    group by item
),
rolled as (
    select months.month, items.account, items.beer, items.package,
        coalesce(columns(monthly.* exclude (item, month, balance_units)), 0),
        last_value(monthly.balance_units ignore nulls) over so_far as closing_units,
        coalesce(sum(monthly.delivered_cost - monthly.returned_cost - monthly.used_cost) over so_far, 0) as closing_cost
    from items
    join record.months on months.month >= items.from_month
    left join monthly on monthly.item = items.item and monthly.month = months.month
    window so_far as (partition by items.item order by months.month)
)
select *, 0 as correction_units, 0 as correction_cost,
    closing_units - delivered_units + returned_units + used_units as opening_units,
    closing_cost - delivered_cost + returned_cost + used_cost as opening_cost
from rolled
where closing_units <> 0 or closing_cost <> 0 or delivered_units <> 0 or returned_units <> 0 or used_units <> 0;
