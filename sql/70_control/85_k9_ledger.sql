-- table: control.k9_ledger
-- grain: one balance of the general ledger whose account these books roll forward
-- key: month, subject
-- units: money, to the cent; a credit balance is negative
-- reads: record.ledger, result.account_months
-- rule: K9
-- source: the ledger agrees with the roll-forwards. Only the stocks, the duty, deposits and receipts without an invoice are
--   rolled forward here from their opening balances; other accounts hold what these books know nothing of

create table control.k9_ledger (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k9_ledger by name
select ledger.month, 'K9' as control, ledger.account || ' · general ledger' as subject, ledger.balance as expected,
    sum(accounts.closing)::decimal(18,2)::decimal(18,6) as actual
from record.ledger
join result.account_months as accounts on accounts.month = ledger.month
    and lower(ledger.account) in (lower(accounts.account), lower(accounts.account_name))
where accounts.rolled
group by ledger.month, ledger.account, ledger.balance;
