-- table: closing.journal
-- grain: one row of result.journal in a closed month, as computed now
-- key: that of result.journal
-- units: those of result.journal
-- reads: result.journal, closing.months, closing.turn, record.months, given_frozen_journal
-- rule: none
-- source: result.journal shows a closed month as it was frozen; what the movements of closed months are now, less
--   what was posted for them, is the last entry of the first open month

create table closing.journal as
from result.journal where month in (select month from closing.months);

delete from result.journal where month in (select month from closing.months);

insert into result.journal by name
from given_frozen_journal;

insert into result.journal by name
with
posted as (
    select role, area, account, account_name, debit - credit as amount from closing.journal
    union all by name
    select role, area, account, account_name, credit - debit as amount
    from result.journal
    where month in (select month from closing.months)
),
differences as (
    select role, area, any_value(account) as account, any_value(account_name) as account_name,
        sum(amount)::decimal(18,6) as amount
    from posted
    group by role, area
    having sum(amount) <> 0
)
select
    turn.first_open as month,
    coalesce((select max(entry) from result.journal where month = turn.first_open), 0) + 1 as entry,
    row_number() over (order by differences.amount < 0, differences.role, differences.area) as line,
    months.last_day as date, null as site, 'corrections' as kind, '' as document,
    differences.role, differences.area, differences.account, differences.account_name,
    'of months up to ' || turn.last_closed as text,
    greatest(differences.amount, 0) as debit, greatest(-differences.amount, 0) as credit
from differences
cross join closing.turn
join record.months on months.month = turn.first_open;
