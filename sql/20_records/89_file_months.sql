-- table: record.file_months
-- grain: one month that records of one file or sheet are of
-- key: file, sheet, field, month
-- units: none
-- reads: every dated table of record
-- rule: none
-- source: kinds.toml

create table record.file_months (
    file text not null,
    sheet text,
    field text not null,
    month text not null,
    first_day date not null,    -- of the month
    row bigint not null,        -- the first of its rows, and the date that it bears
    date date not null,
    rows bigint not null
);

insert into record.file_months by name
with dated as (
    select file, sheet, row, date, 'date' as field from record.receipts
    union all by name select file, sheet, row, date, 'date' as field from record.invoices
    union all by name select file, sheet, row, date, 'date' as field from record.uses where not from_recipe
    union all by name select file, sheet, row, date, 'date' as field from record.brews
    union all by name select file, sheet, row, date, 'date' as field from record.moves
    union all by name select file, sheet, row, date, 'date' as field from record.readings
    union all by name select file, sheet, row, date, 'date' as field from record.packaging
    union all by name select file, sheet, row, date, 'date' as field from record.shipments
    union all by name select file, sheet, row, date, 'date' as field from record.returns
    union all by name select file, sheet, row, date, 'date' as field from record.credits
    union all by name select file, sheet, row, date, 'date' as field from record.repacks
    union all by name select file, sheet, row, date, 'date' as field from record.counts
    union all by name select file, sheet, row, date, 'date' as field from record.house_counts
    union all by name select file, sheet, row, date, 'date' as field from record.labour
    union all by name select file, sheet, row, (month || '-01')::date as date, 'month' as field from record.expenses
    union all by name select file, sheet, row, date, 'date' as field from record.beer_in
    union all by name select file, sheet, row, date, 'date' as field from record.byproducts
    union all by name select file, sheet, row, date, 'date' as field from record.empties
    union all by name select file, sheet, row, filed_on as date, 'filed_on' as field from record.filings
    union all by name select file, sheet, row, date, 'date' as field from record.payments
    union all by name select file, sheet, row, (month || '-01')::date as date, 'month' as field from record.ledger
)
select
    file, sheet, field, month_of(date_trunc('month', date)) as month, date_trunc('month', date)::date as first_day, min(row) as row,
    arg_min(date, row) as date, count(*) as rows
from dated
group by file, sheet, field, date_trunc('month', date);
