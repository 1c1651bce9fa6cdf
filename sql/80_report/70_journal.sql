-- table: report.journal
-- grain: one line of the journal in cents, as a ledger takes it
-- key: month, entry, line
-- units: money, whole cents
-- reads: result.journal, result.account_months, reference.chart
-- rule: K6
-- source: each account's balance is rounded, and a line is the step between two rounded balances, so that the ledger holds the
--   books' balance to the cent for ever; what an entry is then out by stands on a rounding line of its own

create table report.journal (
    month text not null,
    entry bigint not null,
    line bigint not null,
    date date not null,
    account text not null,
    account_name text not null,
    text text not null,
    document text not null,
    debit decimal(18,2),
    credit decimal(18,2),
    primary key (month, entry, line)
);

insert into report.journal by name
with
opened as (
    select role, area, arg_min(opening, month) as amount from result.account_months group by role, area
),
balances as (
    select journal.*,
        coalesce(opened.amount, 0) + sum(journal.debit - journal.credit) over (
            partition by journal.role, journal.area order by journal.month, journal.entry, journal.line
        ) as balance
    from result.journal as journal
    left join opened on opened.role = journal.role and opened.area is not distinct from journal.area
),
lines as (
    select month, entry, line, date, account, account_name, kind || ', ' || text as text, document,
        (balance::decimal(18,2) - (balance - debit + credit)::decimal(18,2))::decimal(18,2) as amount
    from balances
),
with_rounding as (
    select * from lines where amount <> 0
    union all by name
    select lines.month, lines.entry, max(lines.line) + 1 as line, any_value(lines.date) as date, chart.account,
        chart.name as account_name, 'rounding to cents' as text, any_value(lines.document) as document,
        -sum(lines.amount) as amount
    from lines
    cross join reference.chart
    where chart.role = 'rounding'
    group by lines.month, lines.entry, chart.account, chart.name
    having sum(lines.amount) <> 0
)
select
    month, entry,
    row_number() over (partition by month, entry order by line) as line,
    date, account, account_name, text,
    -- Ledgers want a document on every line: the entry's own number where no paper stands behind it.
    case when document = '' then 'J-' || month || '-' || lpad(entry::text, 3, '0') else document end as document,
    case when amount > 0 then amount end as debit,
    case when amount < 0 then -amount end as credit
from with_rounding;
