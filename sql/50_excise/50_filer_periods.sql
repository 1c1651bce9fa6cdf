-- table: excise.filer_periods
-- grain: one return period a site has to file for, of those the months of the books touch
-- key: area, site, period
-- units: dates
-- reads: excise.filers, reference.return_periods, record.months
-- rule: X7
-- source: 26 U.S.C. 5061(d); 27 CFR 25.164, 25.164a; other areas as their files say

create table excise.filer_periods (
    area text not null,
    site text not null,
    length text not null,
    period text not null,
    from_date date not null,
    to_date date not null,
    due_date date,
    pay_date date
);

insert into excise.filer_periods by name
with span as (
    select min(first_day) as first_day, max(last_day) as last_day
    from record.months
)
select filers.area, filers.site, filers.length, periods.period, periods.from_date, periods.to_date,
    periods.due_date, periods.pay_date
from excise.filers as filers
join reference.return_periods as periods on periods.area = filers.area and periods.length = filers.length
join span on periods.to_date >= span.first_day and periods.from_date <= span.last_day;
