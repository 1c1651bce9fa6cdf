-- table: report.margin_months
-- grain: one month, from revenue down to what is left after period expenses
-- key: month
-- units: bbl, the books' currency; pct of revenue
-- reads: report.months, result.margins, result.period_expenses
-- rule: M2, C3, C6
-- source: none; presentation

create table report.margin_months (
    month text primary key,
    bbl decimal(18,6),
    revenue decimal(18,6),
    cost_of_goods_sold decimal(18,6),
    duty decimal(18,6),
    freight decimal(18,6),
    margin decimal(18,6),
    idle_capacity decimal(18,6),
    abnormal_loss decimal(18,6),
    other_expenses decimal(18,6),
    left_over decimal(18,6),
    revenue_per_bbl decimal(18,6),
    cost_per_bbl decimal(18,6),
    margin_per_bbl decimal(18,6),
    margin_pct decimal(18,6)
);

insert into report.margin_months by name
with sold as (
    select
        month,
        sum(bbl) as bbl,
        whole_sum(revenue) as revenue,
        sum(cost_of_goods_sold) as cost_of_goods_sold,
        sum(duty) as duty,
        sum(freight) as freight,
        whole_sum(margin) as margin
    from result.margins
    group by month
),
expensed as (
    select
        month,
        coalesce(sum(amount) filter (where kind = 'idle capacity'), 0) as idle_capacity,
        coalesce(sum(amount) filter (where kind = 'abnormal loss'), 0) as abnormal_loss,
        coalesce(sum(amount) filter (where kind not in ('idle capacity', 'abnormal loss')), 0) as other_expenses,
        sum(amount) as amount
    from result.period_expenses
    group by month
)
select
    months.month,
    sold.bbl,
    sold.revenue,
    sold.cost_of_goods_sold,
    sold.duty,
    sold.freight,
    sold.margin,
    coalesce(expensed.idle_capacity, 0) as idle_capacity,
    coalesce(expensed.abnormal_loss, 0) as abnormal_loss,
    coalesce(expensed.other_expenses, 0) as other_expenses,
    sold.margin - coalesce(expensed.amount, 0) as left_over,
    per(sold.revenue, sold.bbl) as revenue_per_bbl,
    per(sold.cost_of_goods_sold, sold.bbl) as cost_per_bbl,
    per(sold.margin, sold.bbl) as margin_per_bbl,
    percent(sold.margin, sold.revenue) as margin_pct
from report.months as months
left join sold on sold.month = months.month
left join expensed on expensed.month = months.month;
