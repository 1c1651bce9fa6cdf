-- table: closing.capacity
-- grain: one row of result.capacity in a closed month, as computed now
-- key: that of result.capacity
-- units: those of result.capacity
-- reads: result.capacity, closing.months, given_frozen_capacity
-- rule: none
-- source: result.capacity shows a closed month as it was frozen

create table closing.capacity as
from result.capacity where month in (select month from closing.months);

delete from result.capacity where month in (select month from closing.months);

insert into result.capacity by name
from given_frozen_capacity;
