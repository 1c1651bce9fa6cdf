-- table: report.goods_on_hand
-- grain: one beer in a package at a site, on hand at a month's end
-- key: month, site, beer, package
-- units: packages, bbl, money, days
-- reads: result.goods_months, cost.goods_moves, record.months
-- rule: C11
-- source: days on hand: closing packages / packages shipped a day over this month and the two before; slow: more than 90 days
--   on hand, or nothing shipped in those months (common practice, no source)

create table report.goods_on_hand (
    month text not null,
    site text not null,
    beer text not null,
    package text not null,
    closing_units decimal(18,6) not null,
    closing_bbl decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    cost_per_package decimal(18,6),
    days_on_hand decimal(18,6),
    last_packaged date,
    last_shipped date,
    state text not null,
    primary key (month, site, beer, package)
);

insert into report.goods_on_hand by name
with
days as (
    select month, sum(days) over (order by month rows between 2 preceding and current row) as days from record.months
),
shipped as (
    select month, site, beer, package,
        sum(shipped_units) over (
            partition by site, beer, package order by (month || '-01')::date
            range between interval 2 months preceding and current row
        ) as shipped_units
    from result.goods_months
),
moved as (
    select month, site, beer, package,
        max(date) filter (where kind = 'packaged') as last_packaged, max(date) filter (where kind = 'shipped') as last_shipped
    from cost.goods_moves
    group by month, site, beer, package
),
dated as (
    select months.month, moved.site, moved.beer, moved.package,
        max(moved.last_packaged) as last_packaged, max(moved.last_shipped) as last_shipped
    from record.months
    join moved on moved.month <= months.month
    group by months.month, moved.site, moved.beer, moved.package
),
held as (
    select goods.month, goods.site, goods.beer, goods.package, goods.closing_units, goods.closing_bbl, goods.closing_cost,
        per(goods.closing_cost, goods.closing_units) as cost_per_package,
        per(goods.closing_units * days.days, shipped.shipped_units) as days_on_hand,
        dated.last_packaged, dated.last_shipped
    from result.goods_months as goods
    join days using (month)
    join shipped using (month, site, beer, package)
    left join dated using (month, site, beer, package)
    where goods.closing_units <> 0 or goods.closing_cost <> 0
)
select *, case when days_on_hand <= 90 then '' else 'slow' end as state
from held;
