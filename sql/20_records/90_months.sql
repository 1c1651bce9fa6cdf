-- table: record.months
-- grain: one month of the books
-- key: month
-- units: days
-- reads: record.file_months, reference.settings
-- rule: none
-- source: calendar

-- From the first month to the latest month that any record has.
create table record.months (
    month text primary key,
    first_day date not null,
    last_day date not null,
    days bigint not null
);

insert into record.months by name
with days as (
    select unnest(generate_series(
        settings.first_day,
        greatest(settings.first_day, (select max(first_day) from record.file_months)),
        interval 1 month
    ))::date as first_day
    from reference.settings as settings
)
select
    month_of(first_day) as month,
    first_day,
    last_day(first_day) as last_day,
    day(last_day(first_day))::bigint as days
from days;
