-- table: closing.duty_months
-- grain: one row of result.duty_months in a closed month, as computed now
-- key: that of result.duty_months
-- units: those of result.duty_months
-- reads: result.duty_months, closing.months, closing.turn, given_frozen_duty_months
-- rule: none
-- source: result.duty_months shows a closed month as it was frozen; the first open month opens with what was then owed,
--   and what is computed now less that is its correction

create table closing.duty_months as
from result.duty_months where month in (select month from closing.months);

delete from result.duty_months where month in (select month from closing.months);

insert into result.duty_months by name
from given_frozen_duty_months;

update result.duty_months as now set
    opening = frozen.owed, correction = now.opening - frozen.owed
from (
    select turn.first_open, months.area, months.site, coalesce(frozen.owed, 0) as owed
    from closing.turn
    join result.duty_months as months on months.month = turn.first_open
    left join given_frozen_duty_months as frozen on frozen.month = turn.last_closed and frozen.area = months.area
        and frozen.site = months.site
) as frozen
where now.month = frozen.first_open and now.area = frozen.area and now.site = frozen.site;
