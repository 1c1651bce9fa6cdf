-- table: report.margin_months
-- grain: one month, from revenue down to what is left after period expenses and to the profit in the accounts
-- key: month
-- units: bbl, the books' currency; pct of revenue
-- reads: report.months, result.margins, result.period_expenses, result.profit_months
-- rule: M2, C3, C6
-- source: none; presentation

create table report.margin_months (
    month text primary key,
    bbl decimal(18,6) not null,
    revenue decimal(18,6),
    cost_of_goods_sold decimal(18,6) not null,
    duty decimal(18,6) not null,
    freight decimal(18,6) not null,
    margin decimal(18,6),
    idle_capacity decimal(18,6) not null,
    abnormal_loss decimal(18,6) not null,
    other_expenses decimal(18,6) not null,
    left_over decimal(18,6),
    own_houses decimal(18,6),
    not_sold decimal(18,6),
    other decimal(18,6),
    corrections decimal(18,6),
    profit decimal(18,6),
    revenue_per_bbl decimal(18,6),
    cost_per_bbl decimal(18,6),
    margin_per_bbl decimal(18,6),
    margin_pct decimal(18,6)
);

insert into report.margin_months by name
with
-- A month without sales sold nought; only a missing price leaves a blank.
lines as (
    select month, bbl, revenue, cost_of_goods_sold, duty, freight, margin from result.margins
    union all by name
    select month, 0 as bbl, 0 as revenue, 0 as cost_of_goods_sold, 0 as duty, 0 as freight, 0 as margin from report.months
),
sold as (
    select
        month,
        sum(bbl) as bbl,
        whole_sum(revenue) as revenue,
        sum(cost_of_goods_sold) as cost_of_goods_sold,
        sum(duty) as duty,
        sum(freight) as freight,
        whole_sum(margin) as margin
    from lines
    group by month
),
expensed as (
    select
        month,
        coalesce(sum(amount) filter (where kind = 'idle capacity'), 0) as idle_capacity,
        coalesce(sum(amount) filter (where kind = 'abnormal loss'), 0) as abnormal_loss,
        coalesce(sum(amount) filter (where kind not in ('idle capacity', 'abnormal loss')), 0) as other_expenses
    from result.period_expenses
    group by month
)
select
    sold.*,
    coalesce(expensed.idle_capacity, 0) as idle_capacity,
    coalesce(expensed.abnormal_loss, 0) as abnormal_loss,
    coalesce(expensed.other_expenses, 0) as other_expenses,
    profits.* exclude (month),
    per(sold.revenue, sold.bbl) as revenue_per_bbl,
    per(sold.cost_of_goods_sold, sold.bbl) as cost_per_bbl,
    per(sold.margin, sold.bbl) as margin_per_bbl,
    percent(sold.margin, sold.revenue) as margin_pct
from sold
left join expensed using (month)
left join result.profit_months as profits using (month);
