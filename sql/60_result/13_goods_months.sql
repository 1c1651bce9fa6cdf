-- table: result.goods_months
-- grain: one month, site, beer and package
-- key: month, site, beer, package
-- units: packages, bbl, money
-- reads: cost.goods_moves, record.months
-- rule: C11, K3
-- source: opening + correction + packaged + received + restocked + repacked - shipped + counted = closing

create table result.goods_months (
    month text not null,
    site text not null,
    beer text not null,
    package text not null,
    opening_units decimal(18,6) not null,
    opening_bbl decimal(18,6) not null,
    opening_cost decimal(18,6) not null,
    correction_units decimal(18,6) not null,
    correction_bbl decimal(18,6) not null,
    correction_cost decimal(18,6) not null,
    packaged_units decimal(18,6) not null,
    packaged_bbl decimal(18,6) not null,
    packaged_cost decimal(18,6) not null,
    received_units decimal(18,6) not null,
    received_bbl decimal(18,6) not null,
    received_cost decimal(18,6) not null,
    restocked_units decimal(18,6) not null,
    restocked_bbl decimal(18,6) not null,
    restocked_cost decimal(18,6) not null,
    repacked_units decimal(18,6) not null,
    repacked_bbl decimal(18,6) not null,
    repacked_cost decimal(18,6) not null,
    shipped_units decimal(18,6) not null,
    shipped_bbl decimal(18,6) not null,
    shipped_cost decimal(18,6) not null,
    counted_units decimal(18,6) not null,
    counted_bbl decimal(18,6) not null,
    counted_cost decimal(18,6) not null,
    closing_units decimal(18,6) not null,
    closing_bbl decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    primary key (month, site, beer, package)
);

insert into result.goods_months by name
with
items as (
    select item, any_value(site) as site, any_value(beer) as beer, any_value(package) as package,
        min(month) as from_month
    from cost.goods_moves
    group by item
),
kinds as (
    select
        *,
        case
            when kind in ('repacked in', 'repacked out') then 'repacked'
            when kind = 'count' then 'counted'
            else kind
        end as movement
    from cost.goods_moves
),
monthly as (
    select
        item, month,
        coalesce(sum(units) filter (where movement = 'opening'), 0) as opened_units,
        coalesce(sum(bbl) filter (where movement = 'opening'), 0) as opened_bbl,
        coalesce(sum(cost) filter (where movement = 'opening'), 0) as opened_cost,
        coalesce(sum(units) filter (where movement = 'packaged'), 0) as packaged_units,
        coalesce(sum(bbl) filter (where movement = 'packaged'), 0) as packaged_bbl,
        coalesce(sum(cost) filter (where movement = 'packaged'), 0) as packaged_cost,
        coalesce(sum(units) filter (where movement = 'received'), 0) as received_units,
        coalesce(sum(bbl) filter (where movement = 'received'), 0) as received_bbl,
        coalesce(sum(cost) filter (where movement = 'received'), 0) as received_cost,
        coalesce(sum(units) filter (where movement = 'restocked'), 0) as restocked_units,
        coalesce(sum(bbl) filter (where movement = 'restocked'), 0) as restocked_bbl,
        coalesce(sum(cost) filter (where movement = 'restocked'), 0) as restocked_cost,
        coalesce(sum(units) filter (where movement = 'repacked'), 0) as repacked_units,
        coalesce(sum(bbl) filter (where movement = 'repacked'), 0) as repacked_bbl,
        coalesce(sum(cost) filter (where movement = 'repacked'), 0) as repacked_cost,
        coalesce(sum(short_units - units) filter (where movement = 'shipped'), 0) as shipped_units,
        coalesce(sum(short_bbl - bbl) filter (where movement = 'shipped'), 0) as shipped_bbl,
        coalesce(sum(short_cost - cost) filter (where movement = 'shipped'), 0) as shipped_cost,
        coalesce(sum(units) filter (where movement = 'counted'), 0) as counted_units,
        coalesce(sum(bbl) filter (where movement = 'counted'), 0) as counted_bbl,
        coalesce(sum(cost) filter (where movement = 'counted'), 0) as counted_cost,
        arg_max(balance_units, seq) as closing_units,
        arg_max(balance_bbl, seq) as closing_bbl,
        arg_max(balance_cost, seq) as closing_cost
    from kinds
    group by item, month
),
filled as (
    select
        items.item, items.site, items.beer, items.package, months.month,
        monthly.* exclude (item, month, closing_units, closing_bbl, closing_cost),
        coalesce(last_value(monthly.closing_units ignore nulls) over so_far, 0) as closing_units,
        coalesce(last_value(monthly.closing_bbl ignore nulls) over so_far, 0) as closing_bbl,
        coalesce(last_value(monthly.closing_cost ignore nulls) over so_far, 0) as closing_cost
    from items
    join record.months on months.month >= items.from_month
    left join monthly on monthly.item = items.item and monthly.month = months.month
    window so_far as (partition by items.item order by months.month)
),
rolled as (
    select
        month, site, beer, package,
        coalesce(opened_units, 0) + coalesce(lag(closing_units) over before, 0) as opening_units,
        coalesce(opened_bbl, 0) + coalesce(lag(closing_bbl) over before, 0) as opening_bbl,
        coalesce(opened_cost, 0) + coalesce(lag(closing_cost) over before, 0) as opening_cost,
        0 as correction_units,
        0 as correction_bbl,
        0 as correction_cost,
        coalesce(columns(filled.* exclude (
            item, month, site, beer, package, opened_units, opened_bbl, opened_cost, closing_units, closing_bbl,
            closing_cost
        )), 0),
        closing_units,
        closing_bbl,
        closing_cost
    from filled
    window before as (partition by item order by month)
)
select *
from rolled
where opening_units <> 0 or opening_cost <> 0 or packaged_units <> 0 or received_units <> 0 or restocked_units <> 0
    or repacked_units <> 0 or shipped_units <> 0 or counted_units <> 0 or closing_units <> 0 or closing_cost <> 0;
