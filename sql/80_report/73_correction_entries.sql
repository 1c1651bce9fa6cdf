-- table: report.correction_entries
-- grain: one account of the entry that corrects closed months
-- key: month, account, text
-- units: money, whole cents
-- reads: report.journal, result.journal
-- rule: K6
-- source: none; presentation. As journal.csv has it

create table report.correction_entries (
    month text not null,
    account text not null,
    account_name text not null,
    text text not null,
    debit decimal(18,2),
    credit decimal(18,2)
);

insert into report.correction_entries by name
select lines.month, lines.account, lines.account_name, lines.text, lines.debit, lines.credit
from report.journal as lines
join (select distinct month, entry from result.journal where kind = 'corrections') as entries using (month, entry);
