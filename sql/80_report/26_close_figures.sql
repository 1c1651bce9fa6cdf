-- table: report.close_figures
-- grain: one figure of one month on the first sheet of the controller's workbook
-- key: month, place
-- units: as the row says
-- reads: report.months, report.stocks, result.margins, result.period_expenses, result.run_costs, result.duty_months,
--   result.books
-- rule: C10, C11, X6
-- source: none; presentation

create table report.close_figures (
    month text not null,
    place bigint not null,
    figure text not null,
    unit text not null,
    value decimal(18,6),
    last_month decimal(18,6),
    change decimal(18,6),
    primary key (month, place)
);

insert into report.close_figures by name
with sold as (
    select month, sum(cost_of_goods_sold) as cost_of_goods_sold
    from result.margins
    group by month
),
packaged as (
    select month, per_sum(total_cost, good_bbl) as cost_per_bbl
    from result.run_costs
    group by month
),
expensed as (
    select
        month,
        sum(amount) as amount,
        sum(amount) filter (where kind = 'idle capacity') as idle,
        sum(amount) filter (where kind = 'abnormal loss') as abnormal
    from result.period_expenses
    group by month
),
stocked as (
    select month, sum(closing_cost) as closing_cost
    from report.stocks
    group by month
),
accrued as (
    select month, sum(amount) as amount
    from result.duty_months
    group by month
),
figures as (
    select
        months.month,
        unnest([
            {place: 1, figure: 'cost of goods sold', suffix: '', value: coalesce(sold.cost_of_goods_sold, 0)},
            {place: 2, figure: 'cost of a barrel packaged', suffix: ' per bbl', value: packaged.cost_per_bbl},
            {place: 3, figure: 'period expenses, kept out of stock', suffix: '', value: coalesce(expensed.amount, 0)},
            {place: 4, figure: '  of which idle capacity', suffix: '', value: coalesce(expensed.idle, 0)},
            {place: 5, figure: '  of which abnormal loss', suffix: '', value: coalesce(expensed.abnormal, 0)},
            {place: 6, figure: 'stocks at the end', suffix: '', value: coalesce(stocked.closing_cost, 0)},
            {place: 7, figure: 'duty accrued', suffix: '', value: coalesce(accrued.amount, 0)}
        ], recursive := true)
    from report.months as months
    left join sold on sold.month = months.month
    left join packaged on packaged.month = months.month
    left join expensed on expensed.month = months.month
    left join stocked on stocked.month = months.month
    left join accrued on accrued.month = months.month
)
select
    figures.month,
    figures.place,
    figures.figure,
    books.currency || figures.suffix as unit,
    figures.value,
    lag(figures.value) over months_of_figure as last_month,
    figures.value - lag(figures.value) over months_of_figure as change
from figures
cross join result.books as books
window months_of_figure as (partition by figures.place order by figures.month);
