-- table: control.k_owner
-- grain: one month and figure of the owner's workbook
-- key: month, subject
-- units: money, packages
-- reads: closing.months, closing.margins, closing.run_costs, record.months, cost.goods_moves, cost.shipment_costs, cost.draw_costs, cost.prices, record.returns,
--   record.credits, record.shipments, excise.removal_duty, result.margins, result.margin_parts, result.margin_bridge,
--   result.run_costs, result.run_cost_parts, result.kegs_out, result.profit_months
-- rule: K12
-- source: the owner's margins are the controller's figures: cost out of the goods' stock, revenue and freight by document,
--   duty by removal; what divides them further adds up to them; what is left leads to the journal's profit

create table control.k_owner (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k_owner by name
with
-- A closed month is shown as it was frozen; the bridge out of it starts from what is computed now.
margins as (
    from recomputed('result.margins', 'closing.margins')
),
run_costs as (
    from recomputed('result.run_costs', 'closing.run_costs')
),
sums as (
    select month, sum(cost_of_goods_sold) as cost, sum(duty) as duty, sum(freight) as freight,
        case when count(revenue) = count(*) then sum(revenue) end as revenue,
        case when count(margin) = count(*) then sum(margin) end as margin
    from margins
    group by month
),
-- What the goods' stock gave out and took back, and what serving tanks drew, less what is a period expense.
stock as (
    select month, sum(amount) as amount
    from (
        select month, short_cost - cost as amount from cost.goods_moves where kind = 'shipped'
        union all by name
        select month, -cost as amount from cost.goods_moves where kind = 'restocked'
        union all by name
        select moves.month, draws.taken as amount
        from cost.draw_costs as draws
        join volume.moves on draws.kind = 'move' and moves.move = draws.name
        where moves.reason = 'serving_tank'
        union all by name
        select month, -cost as amount from cost.shipment_costs where not of_goods_sold
    )
    group by month
),
goods_sold as (
    select kind, document, line, month from cost.shipment_costs where of_goods_sold and kind <> 'return'
),
revenue as (
    select month, case when count(amount) = count(*) then sum(amount) end as amount
    from (
        select goods_sold.month, prices.revenue as amount
        from goods_sold
        left join cost.prices using (kind, document, line)
        union all by name
        select month_of(date) as month, -credit as amount from record.returns
        union all by name
        select month_of(date) as month, -amount as amount from record.credits
    )
    group by month
),
freight as (
    select goods_sold.month, sum(shipments.freight) as amount
    from goods_sold
    join record.shipments on goods_sold.kind = 'shipment' and shipments.document = goods_sold.document
        and shipments.line = goods_sold.line
    group by goods_sold.month
),
-- All the duty there is, less that of beer known to be a period expense: what fits no line of the costs stays in and fails.
duty as (
    select month, sum(amount) as amount
    from (
        select month, amount from excise.removal_duty
        union all by name
        select removal_duty.month, -amount as amount
        from excise.removal_duty
        join cost.shipment_costs using (kind, document, line)
        where not shipment_costs.of_goods_sold
    )
    group by month
),
parts as (
    select month, sum(ingredients + packaging + labour + overhead + stock_cost) as by_element,
        sum(variable_cost + fixed_cost + not_known_cost) as by_behaviour
    from result.margin_parts
    group by month
),
packaged as (
    select month, sum(total_cost) as amount from run_costs group by month
),
packaged_parts as (
    select month, sum(amount) as amount from result.run_cost_parts group by month
),
bridges as (
    select month, sum(before) as before, sum(margin) as margin, count(*) = count(margin + before) as whole,
        sum(before + volume + mix + price + ingredients + packaging + yield + conversion + other_stock + duty + freight)
            as arrived
    from result.margin_bridge
    group by month
),
kegs as (
    select month, sum(opening_units + shipped_units - came_back_units - lost_units) as expected,
        sum(closing_units) as actual
    from result.kegs_out
    group by month
),
checks as (
    select months.month, 'cost of goods sold as the stock gave it' as subject, coalesce(stock.amount, 0) as expected,
        coalesce(sums.cost, 0) as actual
    from record.months
    left join stock using (month)
    left join sums using (month)
    union all by name
    select months.month, 'duty as the removals bear it' as subject, coalesce(duty.amount, 0) as expected,
        coalesce(sums.duty, 0) as actual
    from record.months
    left join duty using (month)
    left join sums using (month)
    union all by name
    select months.month, 'freight as the documents say' as subject, coalesce(freight.amount, 0) as expected,
        coalesce(sums.freight, 0) as actual
    from record.months
    left join freight using (month)
    left join sums using (month)
    union all by name
    -- Where a price is missing there is no revenue on either side; the finding `missing-price` says so.
    select month, 'revenue as the documents say' as subject, coalesce(revenue.amount, 0) as expected,
        coalesce(sums.revenue, 0) as actual
    from revenue
    full join sums using (month)
    union all by name
    select month, 'cost of goods sold by element' as subject, coalesce(sums.cost, 0) as expected,
        coalesce(parts.by_element, 0) as actual
    from sums
    full join parts using (month)
    union all by name
    select month, 'cost of goods sold, variable and fixed' as subject, coalesce(sums.cost, 0) as expected,
        coalesce(parts.by_behaviour, 0) as actual
    from sums
    full join parts using (month)
    union all by name
    select month, 'cost of goods packaged by kind of material' as subject, coalesce(packaged.amount, 0) as expected,
        coalesce(packaged_parts.amount, 0) as actual
    from packaged
    full join packaged_parts using (month)
    union all by name
    select bridges.month, 'margin at the end of the bridge' as subject, coalesce(sums.margin, 0) as expected,
        bridges.arrived as actual
    from bridges
    left join sums using (month)
    where bridges.whole
    union all by name
    select bridges.month, 'margin at the start of the bridge' as subject, coalesce(lag(sums.margin) over (
        order by months.month), 0) as expected, bridges.before as actual
    from record.months
    left join sums using (month)
    left join bridges using (month)
    qualify bridges.whole
    union all by name
    select month, 'kegs out' as subject, expected, actual from kegs
    union all by name
    select month, 'left, and what stands beside it, in the profit accounts' as subject, profit as expected,
        left_over + own_houses + not_sold + other + corrections as actual
    from result.profit_months
    where left_over is not null
)
select month, 'K12' as control, subject, expected, actual
from checks;
