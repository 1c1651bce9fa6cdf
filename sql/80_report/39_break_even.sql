-- table: report.break_even
-- grain: one figure of one month on the way from contribution to the barrels that cover the month
-- key: month, place
-- units: as the row says
-- reads: report.contributions, result.capacity, result.period_expenses, report.months, result.books
-- rule: M6
-- source: break-even = what the month must cover / contribution per barrel, at this month's mix and prices. To be covered:
--   fixed pools whole, absorbed or idle, and every other period expense

create table report.break_even (
    month text not null,
    place bigint not null,
    figure text not null,
    unit text not null,
    value decimal(18,6),
    primary key (month, place)
);

insert into report.break_even by name
with
sold as (
    select month, sum(bbl) as bbl, whole_sum(revenue) as revenue, sum(variable_cost) as variable_cost,
        sum(duty) as duty, sum(freight) as freight, sum(fixed_cost) as fixed_cost,
        whole_sum(contribution) as contribution
    from report.contributions
    group by month
),
pools as (
    select month, sum(absorbed) as absorbed, sum(idle) as idle from result.capacity group by month
),
expenses as (
    select month, sum(amount) as amount from result.period_expenses where kind <> 'idle capacity' group by month
),
months as (
    select months.month, sold.* exclude (month),
        coalesce(pools.absorbed, 0) as absorbed, coalesce(pools.idle, 0) as idle,
        coalesce(expenses.amount, 0) as other,
        coalesce(pools.absorbed, 0) + coalesce(pools.idle, 0) + coalesce(expenses.amount, 0) as to_cover
    from report.months
    join sold using (month)
    left join pools using (month)
    left join expenses using (month)
),
worked as (
    select *,
        -- There is no break-even where a barrel contributes nothing.
        case when contribution > 0 and bbl > 0 then part6(to_cover, bbl, contribution) end as break_even_bbl
    from months
)
select worked.month,
    unnest([
        {place: 1, figure: 'revenue', unit: books.currency, value: revenue},
        {place: 2, figure: 'less variable cost of the goods sold', unit: books.currency, value: -variable_cost},
        {place: 3, figure: 'less duty', unit: books.currency, value: -duty},
        {place: 4, figure: 'less freight', unit: books.currency, value: -freight},
        {place: 5, figure: 'contribution', unit: books.currency, value: contribution},
        {place: 6, figure: 'contribution per barrel', unit: books.currency || ' per bbl', value: per(contribution, bbl)},
        {place: 7, figure: 'contribution, share of revenue', unit: '%', value: percent(contribution, revenue)},
        {place: 8, figure: 'to cover: fixed pools in the beer made', unit: books.currency, value: absorbed},
        {place: 9, figure: 'to cover: idle capacity', unit: books.currency, value: idle},
        {place: 10, figure: 'to cover: other period expenses', unit: books.currency, value: other},
        {place: 11, figure: 'to cover in all', unit: books.currency, value: to_cover},
        {place: 12, figure: 'break-even barrels of the month', unit: 'bbl', value: break_even_bbl},
        {place: 13, figure: 'barrels sold', unit: 'bbl', value: bbl},
        {place: 14, figure: 'margin of safety', unit: 'bbl', value: bbl - break_even_bbl},
        {place: 15, figure: 'margin of safety, share of the barrels sold', unit: '%',
            value: percent(bbl - break_even_bbl, bbl)},
        {place: 16, figure: 'contribution less all to cover', unit: books.currency, value: contribution - to_cover},
        {place: 17, figure: 'fixed cost put into stock, less that taken out of it', unit: books.currency,
            value: absorbed - fixed_cost},
        {place: 18, figure: 'left after all of them, as on sheet summary', unit: books.currency,
            value: contribution - to_cover + absorbed - fixed_cost}
    ], recursive := true)
from worked
cross join result.books as books;
