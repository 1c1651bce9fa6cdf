-- table: report.margin_figures
-- grain: one figure of one month on the first sheet of the owner's workbook
-- key: month, place
-- units: as the row says
-- reads: report.margin_months, result.run_costs, result.books
-- rule: M1, M2
-- source: none; presentation

create table report.margin_figures (
    month text not null,
    place bigint not null,
    figure text not null,
    unit text not null,
    value decimal(18,6),
    last_month decimal(18,6),
    change decimal(18,6),
    primary key (month, place)
);

insert into report.margin_figures by name
with packaged as (
    select month, per_sum(total_cost, good_bbl) as cost_per_bbl
    from result.run_costs
    group by month
),
figures as (
    select
        months.month,
        unnest([
            {place: 1, figure: 'margin', unit: books.currency, value: months.margin},
            {place: 2, figure: 'margin per barrel', unit: books.currency || ' per bbl', value: months.margin_per_bbl},
            {place: 3, figure: 'margin, share of revenue', unit: '%', value: months.margin_pct},
            {place: 4, figure: 'revenue', unit: books.currency, value: months.revenue},
            {place: 5, figure: 'barrels out', unit: 'bbl', value: months.bbl},
            {place: 6, figure: 'cost of a barrel packaged', unit: books.currency || ' per bbl',
                value: packaged.cost_per_bbl},
            {place: 7, figure: 'below the margin: idle capacity', unit: books.currency, value: months.idle_capacity},
            {place: 8, figure: 'below the margin: abnormal loss', unit: books.currency, value: months.abnormal_loss},
            {place: 9, figure: 'below the margin: other', unit: books.currency, value: months.other_expenses}
        ], recursive := true)
    from report.margin_months as months
    cross join result.books as books
    left join packaged on packaged.month = months.month
)
select
    *,
    lag(value) over months_of_figure as last_month,
    value - lag(value) over months_of_figure as change
from figures
window months_of_figure as (partition by place order by month);
