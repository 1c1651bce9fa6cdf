-- table: report.cellar_days
-- grain: one month, and the day on which its workbook shows the cellar
-- key: month
-- units: none
-- reads: report.months, result.lot_flows, result.lot_readings, result.lot_materials
-- rule: V10
-- source: none; a month that is over is shown as it ended, the last one as far as the cellar's paper goes

create table report.cellar_days (
    month text primary key,
    day date not null,
    said text not null
);

insert into report.cellar_days by name
with
written as (
    select date from result.lot_flows
    union all select date from result.lot_readings
    union all select date from result.lot_materials
),
last_written as (
    select max(date) as day from written
),
shown as (
    select months.month, months.last_day,
        case when months.month = max(months.month) over () and last_written.day between months.first_day and months.last_day
            then last_written.day else months.last_day end as day
    from report.months as months
    cross join last_written
)
select month, day,
    'On ' || day || case when day < last_day then ', the last day on which something was written down in the cellar'
        else ', the last day of the month' end as said
from shown;
