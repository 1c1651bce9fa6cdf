-- table: closing.purchase_variances
-- grain: one row of result.purchase_variances in a closed month, as computed now
-- key: that of result.purchase_variances
-- units: those of result.purchase_variances
-- reads: result.purchase_variances, closing.months, given_frozen_purchase_variances
-- rule: none
-- source: result.purchase_variances shows a closed month as it was frozen

create table closing.purchase_variances as
from result.purchase_variances where month in (select month from closing.months);

delete from result.purchase_variances where month in (select month from closing.months);

insert into result.purchase_variances by name
from given_frozen_purchase_variances;
