-- table: report.excise_figures
-- grain: one figure of one month on the first sheet of the excise workbook
-- key: month, place
-- units: as the row says
-- reads: report.months, result.removals, result.removals_by_day, result.duty_months, result.books
-- rule: X2, X4, X6
-- source: none; presentation

create table report.excise_figures (
    month text not null,
    place bigint not null,
    figure text not null,
    unit text not null,
    value decimal(18,6),
    last_month decimal(18,6),
    change decimal(18,6),
    primary key (month, place)
);

insert into report.excise_figures by name
with accrued as (
    select month, sum(amount) as amount, sum(owed) as owed
    from result.duty_months
    group by month
),
-- A country's days and its states' cover the same barrels: the national ones (no hyphen in the area) are counted.
days as (
    select
        month_of(date) as month,
        sum(removed_bbl) as removed_bbl,
        sum(returned_bbl) as returned_bbl,
        sum(taxable_bbl) as taxable_bbl
    from result.removals_by_day
    where not contains(area, '-') and unit = 'bbl'
    group by month_of(date)
),
untaxed as (
    select month, sum(bbl) as bbl
    from result.removals
    where not taxable
    group by month
),
figures as (
    select
        months.month,
        unnest([
            {place: 1, figure: 'duty accrued in the month', unit: books.currency, value: coalesce(accrued.amount, 0)},
            {place: 2, figure: 'duty owed at its end', unit: books.currency, value: coalesce(accrued.owed, 0)},
            {place: 3, figure: 'taxable barrels, days rounded', unit: 'bbl', value: days.taxable_bbl},
            {place: 4, figure: '  removed for a taxable purpose', unit: 'bbl', value: days.removed_bbl},
            {place: 5, figure: '  less returned to the brewery', unit: 'bbl', value: days.returned_bbl},
            {place: 6, figure: 'left without being taxable', unit: 'bbl', value: coalesce(untaxed.bbl, 0)}
        ], recursive := true)
    from report.months as months
    cross join result.books as books
    left join accrued on accrued.month = months.month
    left join days on days.month = months.month
    left join untaxed on untaxed.month = months.month
)
select
    *,
    lag(value) over months_of_figure as last_month,
    value - lag(value) over months_of_figure as change
from figures
window months_of_figure as (partition by place order by month);
