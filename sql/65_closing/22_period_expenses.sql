-- table: closing.period_expenses
-- grain: one row of result.period_expenses in a closed month, as computed now
-- key: that of result.period_expenses
-- units: those of result.period_expenses
-- reads: result.period_expenses, closing.months, given_frozen_period_expenses
-- rule: none
-- source: result.period_expenses shows a closed month as it was frozen

create table closing.period_expenses as
from result.period_expenses where month in (select month from closing.months);

delete from result.period_expenses where month in (select month from closing.months);

insert into result.period_expenses by name
from given_frozen_period_expenses;
