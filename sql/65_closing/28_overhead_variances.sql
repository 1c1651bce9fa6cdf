-- table: closing.overhead_variances
-- grain: one row of result.overhead_variances in a closed month, as computed now
-- key: that of result.overhead_variances
-- units: those of result.overhead_variances
-- reads: result.overhead_variances, closing.months, given_frozen_overhead_variances
-- rule: none
-- source: result.overhead_variances shows a closed month as it was frozen

create table closing.overhead_variances as
from result.overhead_variances where month in (select month from closing.months);

delete from result.overhead_variances where month in (select month from closing.months);

insert into result.overhead_variances by name
from given_frozen_overhead_variances;
