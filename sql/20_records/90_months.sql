-- table: record.months
-- grain: one month of the books
-- key: month
-- units: days
-- reads: every dated table of record, reference.settings
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
with latest as (
    select max(day) as day
    from (
        select first_day as day from reference.settings
        union all select max(date) from record.receipts
        union all select max(date) from record.invoices
        union all select max(date) from record.uses
        union all select max(date) from record.brews
        union all select max(date) from record.moves
        union all select max(date) from record.readings
        union all select max(date) from record.packaging
        union all select max(date) from record.shipments
        union all select max(date) from record.returns
        union all select max(date) from record.credits
        union all select max(date) from record.repacks
        union all select max(date) from record.counts
        union all select max(date) from record.house_counts
        union all select max(date) from record.labour
        union all select max((month || '-01')::date) from record.expenses
        union all select max(date) from record.beer_in
        union all select max(date) from record.byproducts
        union all select max(date) from record.empties
        union all select max(filed_on) from record.filings
        union all select max(date) from record.payments
        union all select max((month || '-01')::date) from record.ledger
    )
),
days as (
    select unnest(generate_series(settings.first_day, latest.day, interval 1 month))::date as first_day
    from reference.settings as settings
    cross join latest
)
select
    month_of(first_day) as month,
    first_day,
    last_day(first_day) as last_day,
    day(last_day(first_day))::bigint as days
from days;
