-- table: report.ledger_documents
-- grain: one posting of the month to an account on which the general ledger differs, and one of the next month that would
--   explain the difference
-- key: none
-- units: money, debit positive
-- reads: report.ledger, result.account_months, result.journal, record.months
-- rule: K9
-- source: a difference that one posting would explain: it is missing in the ledger (these books less the ledger = the posting),
--   stands in it twice (= less the posting), on its wrong side (= twice the posting), or a month early

create table report.ledger_documents (
    month text not null,
    account text not null,
    date date not null,
    kind text not null,
    document text not null,
    text text not null,
    amount decimal(18,2) not null,
    explains text
);

insert into report.ledger_documents by name
with
differing as (
    select ledger.month, ledger.account, ledger.difference,
        strftime(months.last_day + interval 1 day, '%Y-%m') as next_month
    from report.ledger
    join record.months using (month)
    where ledger.state = 'DIFFERS'
),
roles as (
    select differing.*, accounts.role, accounts.area
    from differing
    join result.account_months as accounts on accounts.month = differing.month
        and lower(differing.account) in (lower(accounts.account), lower(accounts.account_name))
),
postings as (
    select roles.month, roles.account, roles.difference, journal.month = roles.next_month as is_next, journal.date,
        journal.kind, journal.document, journal.text,
        sum(journal.debit - journal.credit)::decimal(18,2) as amount
    from roles
    join result.journal on journal.role = roles.role and journal.area is not distinct from roles.area
        and journal.month in (roles.month, roles.next_month)
    group by all
),
explained as (
    select * exclude (is_next, difference),
        case
            when amount = 0 then null
            when is_next and difference = -amount then 'in the ledger a month early?'
            when is_next then null
            when difference = amount then 'missing in the ledger?'
            when difference = -amount then 'twice in the ledger?'
            when difference = 2 * amount then 'on its wrong side in the ledger?'
        end as explains,
        is_next
    from postings
)
select * exclude (is_next)
from explained
where not is_next or explains is not null;
