-- table: excise.operation_checks
-- grain: one published cross-check of one site's statement of operations
-- key: site, period, check_no, form_column
-- units: bbl
-- reads: excise.operations, excise.operation_entries, excise.duty, excise.removals_by_day, excise.removals, excise.spans
-- rule: X8
-- source: TTB, Helpful Hints in Preparing Form 5130.9 (hints 1 to 10); the Forms 5130.12 of hint 9 are no records: the
--   shipments they stand for are compared

create table excise.operation_checks (
    site text not null,
    period text not null,
    check_no bigint not null,
    form_column text not null,
    text text not null,
    expected decimal(18,6) not null,
    actual decimal(18,6) not null,
    holds boolean not null,
    primary key (site, period, check_no, form_column)
);

insert into excise.operation_checks by name
with
figures as (
    select site, period, form_line, form_column, bbl from excise.operations
),
periods as (
    select distinct site, period, form_column from excise.operations
),
opened as (
    select site, form_column, period, bbl,
        lag(period) over (partition by site, form_column, period like '%Q%' order by period) as before
    from figures
    where form_line = 1
),
pairs as (
    select * from (values
        (2, 'line 4 (cellar) = line 24', 4, 'cellar', 24, 'total'),
        (3, 'line 6 (racking bulk) = line 22 (cellar)', 6, 'racking bulk', 22, 'cellar'),
        (4, 'line 6 (bottling bulk) = line 23 (cellar)', 6, 'bottling bulk', 23, 'cellar'),
        (5, 'line 9 (racking keg) = line 25 (racking bulk)', 9, 'racking keg', 25, 'racking bulk'),
        (6, 'line 10 (bottling case) = line 26 (bottling bulk)', 10, 'bottling case', 26, 'bottling bulk')
    ) as pairs(check_no, text, left_line, left_column, right_line, right_column)
),
-- What a return covers, for the months or quarters that returns of the site make up whole.
taxed as (
    select site, period, sum(quantity) filter (where counts) as quantity,
        any_value(from_date) as from_date, any_value(to_date) as to_date
    from excise.duty
    where area = 'US'
    group by site, period
),
-- Half a hundredth for each rounded day and form, and for each line of the report.
rounded_days as (
    select taxed.site, taxed.period, 0.005 * (count(*) + 6) as tolerance
    from taxed
    join excise.removals_by_day as days
        on days.area = 'US' and days.site = taxed.site and days.date between taxed.from_date and taxed.to_date
    group by taxed.site, taxed.period
),
-- Beer sent abroad and to ships, a Form 5130.12 each.
sent as (
    select removals.site, spans.period, sum(removals.bbl) as bbl
    from excise.removals as removals
    join excise.spans as spans on removals.date between spans.first_day and spans.last_day
    where removals.kind = 'shipment' and removals.tax_class = 'beer' and removals.purpose in ('export', 'vessel_supply')
    group by removals.site, spans.period
),
unexplained as (
    select entries.site, spans.period, entries.form_column, round(sum(entries.bbl), 2) as bbl
    from excise.operation_entries as entries
    join excise.spans as spans on entries.date between spans.first_day and spans.last_day
    where entries.form_line = 31 and entries.tax_class = 'beer' and entries.explanation is null
    group by entries.site, spans.period, entries.form_column
),
checks as (
    select opened.site, opened.period, 1 as check_no, opened.form_column,
        'line 1 = line 33 of the period before' as text, closed.bbl as expected, opened.bbl as actual
    from opened
    join figures as closed
        on closed.site = opened.site and closed.form_column = opened.form_column and closed.period = opened.before
        and closed.form_line = 33
    union all by name
    select sites.site, sites.period, pairs.check_no, pairs.left_column as form_column, pairs.text,
        coalesce(other.bbl, 0) as expected, coalesce(own.bbl, 0) as actual
    from (select distinct site, period from periods) as sites
    cross join pairs
    left join figures as own
        on own.site = sites.site and own.period = sites.period and own.form_line = pairs.left_line
        and own.form_column = pairs.left_column
    left join figures as other
        on other.site = sites.site and other.period = sites.period and other.form_line = pairs.right_line
        and other.form_column = pairs.right_column
    union all by name
    select periods.site, periods.period, 7 as check_no, periods.form_column, 'line 13 = line 34' as text,
        coalesce(removed.bbl, 0) as expected, coalesce(added.bbl, 0) as actual
    from periods
    left join figures as added
        on added.site = periods.site and added.period = periods.period and added.form_line = 13
        and added.form_column = periods.form_column
    left join figures as removed
        on removed.site = periods.site and removed.period = periods.period and removed.form_line = 34
        and removed.form_column = periods.form_column
    union all by name
    select taxed.site, taxed.period, 8 as check_no, 'total' as form_column,
        'lines 14 + 15 - 7 = barrels of the returns (the returns round each day)' as text,
        taxed.quantity as expected,
        coalesce(sum(case when figures.form_line = 7 then -figures.bbl else figures.bbl end), 0) as actual
    from taxed
    left join figures
        on figures.site = taxed.site and figures.period = taxed.period and figures.form_column = 'total'
        and figures.form_line in (7, 14, 15)
    semi join periods on periods.site = taxed.site and periods.period = taxed.period
    group by taxed.site, taxed.period, taxed.quantity
    union all by name
    select sites.site, sites.period, 9 as check_no, 'total' as form_column,
        'lines 16 + 17 = barrels shipped for export and to ships (compare with their Forms 5130.12)' as text,
        coalesce(any_value(sent.bbl), 0) as expected, coalesce(sum(figures.bbl), 0) as actual
    from (select distinct site, period from periods) as sites
    left join sent on sent.site = sites.site and sent.period = sites.period
    left join figures
        on figures.site = sites.site and figures.period = sites.period and figures.form_column = 'total'
        and figures.form_line in (16, 17)
    group by sites.site, sites.period
    union all by name
    select periods.site, periods.period, 10 as check_no, periods.form_column,
        'line 31: every shortage explained at its count, or tax paid on it' as text,
        0 as expected, coalesce(unexplained.bbl, 0) as actual
    from periods
    left join unexplained
        on unexplained.site = periods.site and unexplained.period = periods.period
        and unexplained.form_column = periods.form_column
    where periods.form_column in ('racking keg', 'bottling case')
)
-- The days of a return are rounded, the report is not: check 8 may be off by the rounding of its days, check 9 by that of
-- its two lines in two columns.
select checks.*,
    (abs(checks.expected - checks.actual) <= case checks.check_no when 8 then coalesce(rounded_days.tolerance, 0.03) when 9 then 0.02 else 0 end)
        is true as holds
from checks
left join rounded_days on rounded_days.site = checks.site and rounded_days.period = checks.period;
