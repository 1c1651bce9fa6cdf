-- table: closing.labour_variances
-- grain: one row of result.labour_variances in a closed month, as computed now
-- key: that of result.labour_variances
-- units: those of result.labour_variances
-- reads: result.labour_variances, closing.months, given_frozen_labour_variances
-- rule: none
-- source: result.labour_variances shows a closed month as it was frozen

create table closing.labour_variances as
from result.labour_variances where month in (select month from closing.months);

delete from result.labour_variances where month in (select month from closing.months);

insert into result.labour_variances by name
from given_frozen_labour_variances;
