-- table: excise.remissions
-- grain: what one month of one return is remitted
-- key: area, site, period, month
-- units: money in the area's currency
-- reads: excise.period_bands, excise.filer_periods, excise.remission_years
-- rule: X6
-- source: all duty of a year up to its cap, in order of date: of the duty of the year to date, what the cap holds, less what
--   it held before. So what comes back lowers the count, and gives nothing back that was never paid.

create table excise.remissions (
    area text not null,
    site text not null,
    period text not null,
    month text not null,
    year_from date not null,
    duty decimal(18,6) not null,                -- of the month, before the remission
    remitted_to_date decimal(18,6) not null,    -- in the year, within these books
    remitted decimal(18,6) not null
);

insert into excise.remissions by name
with months as (
    select bands.area, bands.site, bands.period, periods.from_date, bands.month, years.from_date as year_from, years.room,
        sum(bands.amount) as duty
    from excise.period_bands as bands
    join excise.filer_periods as periods
        on periods.area = bands.area and periods.site = bands.site and periods.period = bands.period
    join excise.remission_years as years
        on years.area = bands.area and years.site = bands.site
        and (bands.month || '-01')::date between years.from_date and years.to_date
    group by all
),
to_date as (
    select *, sum(duty) over (
        partition by area, site, year_from order by month, from_date
        rows between unbounded preceding and current row
    ) as reached
    from months
)
select area, site, period, month, year_from, duty, least(room, reached) as remitted_to_date,
    remitted_of(duty, reached, room) as remitted
from to_date;
