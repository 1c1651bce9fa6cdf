-- table: closing.variances
-- grain: one row of result.variances in a closed month, as computed now
-- key: that of result.variances
-- units: those of result.variances
-- reads: result.variances, closing.months, given_frozen_variances
-- rule: none
-- source: result.variances shows a closed month as it was frozen

create table closing.variances as
from result.variances where month in (select month from closing.months);

delete from result.variances where month in (select month from closing.months);

insert into result.variances by name
from given_frozen_variances;
