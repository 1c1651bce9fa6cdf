-- table: closing.margins
-- grain: one row of result.margins in a closed month, as computed now
-- key: that of result.margins
-- units: those of result.margins
-- reads: result.margins, closing.months, given_frozen_margins
-- rule: none
-- source: result.margins shows a closed month as it was frozen

create table closing.margins as
from result.margins where month in (select month from closing.months);

delete from result.margins where month in (select month from closing.months);

insert into result.margins by name
from given_frozen_margins;
