-- table: excise.operations
-- grain: one line and column of one site's statement of operations, of one month or quarter
-- key: site, period, form_line, form_column
-- units: bbl, two decimals
-- reads: excise.operation_entries, excise.operation_lines, excise.production_points, excise.spans
-- rule: X8
-- source: TTB F 5130.9, wording of 2014: line 13 = lines 1 to 12, line 34 = lines 14 to 33, and 13 = 34 in every column

create table excise.operations (
    site text not null,
    period text not null,
    form_line bigint not null,
    form_column text not null,
    text text not null,
    bbl decimal(18,6) not null,
    primary key (site, period, form_line, form_column)
);

insert into excise.operations by name
with
-- A gain that stands among the losses goes to the blank line 12, so that gains and losses are never netted.
days as (
    select site, date, form_column, case when form_line = 30 and bbl < 0 then 12 else form_line end as form_line,
        sum(abs(bbl)) as bbl
    from excise.operation_entries
    where form_line <> 1 and tax_class = 'beer'
    group by all
),
-- Rounded line by line, as the form is filled in; what is on hand at the end follows from the rounded lines.
booked as (
    select days.site, spans.period, spans.first_day, days.form_column, days.form_line, round(sum(days.bbl), 2) as bbl
    from days
    join excise.spans as spans on days.date between spans.first_day and spans.last_day
    group by all
),
-- Nothing stays in racking and bottling overnight: what went in and did not come out in packages was lost there, or gained.
sums as (
    select * from booked
    union all by name
    select site, period, first_day, form_column, case when lost > 0 then 30 else 12 end as form_line, abs(lost) as bbl
    from (
        select site, period, first_day, form_column,
            sum(case when form_line = 6 then bbl when form_line in (25, 26) then -bbl else 0 end) as lost
        from booked
        where form_column in ('racking bulk', 'bottling bulk')
        group by all
    )
    where lost <> 0
),
months as (
    select spans.period, spans.first_day, length(spans.period) = 7 and spans.period not like '%Q%' as is_month
    from excise.spans as spans
),
columns_used as (
    select distinct site, form_column from excise.operation_entries where tax_class = 'beer'
),
-- Stock at the beginning of the books, then each period's net on top of it.
nets as (
    select columns_used.site, columns_used.form_column, months.period, months.first_day, months.is_month,
        coalesce(sum(case when sums.form_line <= 12 then sums.bbl else -sums.bbl end), 0) as net
    from columns_used
    cross join months
    left join sums
        on sums.site = columns_used.site and sums.form_column = columns_used.form_column
        and sums.period = months.period
    group by all
),
opened as (
    select site, form_column, round(sum(bbl), 2) as bbl
    from excise.operation_entries
    where form_line = 1 and tax_class = 'beer'
    group by all
),
balances as (
    select nets.*, coalesce(opened.bbl, 0) + coalesce(sum(net) over (
        partition by nets.site, nets.form_column, nets.is_month order by nets.first_day
        rows between unbounded preceding and 1 preceding
    ), 0) as opening
    from nets
    left join opened on opened.site = nets.site and opened.form_column = nets.form_column
),
lines as (
    select site, period, form_column, form_line, bbl from sums
    union all by name
    select site, period, form_column, unnest([1, 33]) as form_line, unnest([opening, opening + net]) as bbl
    from balances
),
with_totals as (
    select * from lines
    union all by name
    select site, period, form_column, case when form_line <= 12 then 13 else 34 end as form_line, sum(bbl) as bbl
    from lines
    group by all
)
select figures.site, figures.period, figures.form_line, figures.form_column,
    lines.text || case when figures.form_line <> 2 then '' when points.production_point = 'into_fermenter'
        then ' (into the fermenter)' else ' (out of the fermenter)' end as text,
    figures.bbl
from (
    select * from with_totals
    union all by name
    select site, period, 'total' as form_column, form_line, sum(bbl) as bbl
    from with_totals
    group by all
) as figures
join excise.operation_lines as lines on lines.form_line = figures.form_line
join excise.production_points as points on points.site = figures.site;
