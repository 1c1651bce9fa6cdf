-- table: report.margin_figures
-- grain: one figure of one month on the first sheet of the owner's workbook
-- key: month, place
-- units: as the row says; the year to date is the calendar year's months so far in these books
-- reads: report.margin_months, report.contributions, result.run_costs, result.books
-- rule: M1, M2, M3
-- source: none; presentation

create table report.margin_figures (
    month text not null,
    place bigint not null,
    figure text not null,
    unit text not null,
    value decimal(18,6),
    last_month decimal(18,6),
    change decimal(18,6),
    year_to_date decimal(18,6),
    primary key (month, place)
);

insert into report.margin_figures by name
with
packaged as (
    select month, sum(total_cost) as total_cost, sum(good_bbl) as good_bbl
    from result.run_costs
    group by month
),
contributed as (
    select month, whole_sum(contribution) as contribution
    from (
        select month, contribution from report.contributions
        union all by name
        select month, 0 as contribution from report.margin_months
    )
    group by month
),
months as (
    select months.*, contributed.contribution, packaged.total_cost, packaged.good_bbl
    from report.margin_months as months
    left join contributed using (month)
    left join packaged using (month)
),
-- The month itself, and the year up to it.
periods as (
    select *, 'month' as period from months
    union all by name
    select months.month, 'year' as period,
        sum(so_far.bbl) as bbl, whole_sum(so_far.revenue) as revenue, whole_sum(so_far.margin) as margin,
        whole_sum(so_far.contribution) as contribution, sum(so_far.total_cost) as total_cost,
        sum(so_far.good_bbl) as good_bbl, sum(so_far.idle_capacity) as idle_capacity,
        sum(so_far.abnormal_loss) as abnormal_loss, sum(so_far.other_expenses) as other_expenses,
        whole_sum(so_far.left_over) as left_over, whole_sum(so_far.own_houses) as own_houses,
        sum(so_far.not_sold) as not_sold, sum(so_far.other) as other, sum(so_far.corrections) as corrections,
        sum(so_far.profit) as profit
    from months
    join months as so_far on so_far.month <= months.month and substr(so_far.month, 1, 4) = substr(months.month, 1, 4)
    group by months.month
),
figures as (
    select
        periods.month, periods.period,
        unnest([
            {place: 1, figure: 'barrels out', unit: 'bbl', value: periods.bbl},
            {place: 2, figure: 'revenue', unit: books.currency, value: periods.revenue},
            {place: 3, figure: 'margin', unit: books.currency, value: periods.margin},
            {place: 4, figure: 'margin per barrel', unit: books.currency || ' per bbl',
                value: per(periods.margin, periods.bbl)},
            {place: 5, figure: 'margin, share of revenue', unit: '%',
                value: percent(periods.margin, periods.revenue)},
            {place: 6, figure: 'contribution (margin before fixed cost)', unit: books.currency,
                value: periods.contribution},
            {place: 7, figure: 'cost of a barrel packaged', unit: books.currency || ' per bbl',
                value: per(periods.total_cost, periods.good_bbl)},
            {place: 8, figure: 'below the margin: idle capacity', unit: books.currency,
                value: periods.idle_capacity},
            {place: 9, figure: 'below the margin: abnormal loss', unit: books.currency,
                value: periods.abnormal_loss},
            {place: 10, figure: 'below the margin: other', unit: books.currency, value: periods.other_expenses},
            {place: 11, figure: 'left after all of them', unit: books.currency, value: periods.left_over},
            {place: 12, figure: 'to the accounts: own houses, no sale there', unit: books.currency,
                value: periods.own_houses},
            {place: 13, figure: 'to the accounts: duty and freight of beer not sold', unit: books.currency,
                value: periods.not_sold},
            {place: 14, figure: 'to the accounts: deposits kept, interest on duty', unit: books.currency,
                value: periods.other},
            {place: 15, figure: 'to the accounts: corrections of closed months', unit: books.currency,
                value: periods.corrections},
            {place: 16, figure: 'left, as in the profit accounts', unit: books.currency, value: periods.profit}
        ], recursive := true)
    from periods
    cross join result.books as books
),
sides as (
    select month, place, any_value(figure) as figure, any_value(unit) as unit,
        any_value(value) filter (where period = 'month') as value,
        any_value(value) filter (where period = 'year') as year_to_date
    from figures
    group by month, place
)
select
    *,
    lag(value) over months_of_figure as last_month,
    value - lag(value) over months_of_figure as change
from sides
window months_of_figure as (partition by place order by month)
-- What never stands between the two in these books has no line.
qualify place not between 12 and 15 or bool_or(value is distinct from 0) over (partition by place);
