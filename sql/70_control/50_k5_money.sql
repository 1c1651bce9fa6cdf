-- table: control.k5_money
-- grain: one month and site
-- key: month, subject
-- units: money
-- reads: cost.material_moves, record.beer_in, record.labour, record.expenses, record.byproducts, cost.charges,
--   result.material_months, result.lot_months, result.goods_months, cost.shipment_costs, result.period_expenses,
--   cost.goods_moves
-- rule: K5
-- source: everything spent = change in the three stocks + cost of goods sold + period expenses. Stock that was short has a
--   price that nobody paid: it stands on the left too, so that only K1 and K3 fail for it

create table control.k5_money (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k5_money by name
with
spent as (
    select month, site, cost_in + short_cost as amount from cost.material_moves where kind <> 'opening'
    union all by name
    select month_of(date) as month, site, cost as amount from record.beer_in
    union all by name
    select month_of(date) as month, site, coalesce(cost, 0) as amount from record.labour
    union all by name
    select month, site, amount from record.expenses
    union all by name
    select month_of(date) as month, site, -income as amount from record.byproducts
    union all by name
    select month, site, -income as amount from cost.charges
    union all by name
    select month, site, short_cost as amount from cost.goods_moves where kind = 'shipped'
),
came_to as (
    select month, site, closing_cost - opening_cost - correction_cost as amount from result.material_months
    union all by name
    select month, site, closing_cost - opening_cost - correction_cost as amount from result.lot_months
    union all by name
    select month, site, closing_cost - opening_cost - correction_cost as amount from result.goods_months
    union all by name
    select month, site, cost as amount from cost.shipment_costs where of_goods_sold
    union all by name
    select month, site, amount from result.period_expenses
),
sides as (
    select month, site, sum(amount) as expected, 0 as actual from spent group by month, site
    union all by name
    select month, site, 0 as expected, sum(amount) as actual from came_to group by month, site
)
select month, 'K5' as control, site || ' · everything spent' as subject, sum(expected) as expected,
    sum(actual) as actual
from sides
group by month, site;
