-- table: report.ledger
-- grain: one balance of the general ledger beside that of these books
-- key: month, account
-- units: money, a credit balance is negative
-- reads: record.ledger, result.account_months
-- rule: K9
-- source: none; presentation. Only rolled-forward accounts are agreed (K9); of any other the books know but what they posted

create table report.ledger (
    month text not null,
    account text not null,
    ledger_balance decimal(18,6) not null,
    books_balance decimal(18,2),
    difference decimal(18,6),
    state text not null
);

insert into report.ledger by name
select
    ledger.month, ledger.account, ledger.balance as ledger_balance, sum(accounts.closing)::decimal(18,2) as books_balance,
    sum(accounts.closing)::decimal(18,2) - ledger.balance as difference,
    case
        when count(accounts.account) = 0 then 'not an account of these books'
        when not bool_and(accounts.rolled)
            then 'what these books posted, not agreed'
        when sum(accounts.closing)::decimal(18,2) = ledger.balance then 'agrees'
        else 'DIFFERS'
    end as state
from record.ledger
left join result.account_months as accounts on accounts.month = ledger.month
    and lower(ledger.account) in (lower(accounts.account), lower(accounts.account_name))
group by ledger.month, ledger.account, ledger.balance;
