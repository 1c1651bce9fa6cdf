-- table: closing.run_costs
-- grain: one row of result.run_costs in a closed month, as computed now
-- key: that of result.run_costs
-- units: those of result.run_costs
-- reads: result.run_costs, closing.months, given_frozen_run_costs
-- rule: none
-- source: result.run_costs shows a closed month as it was frozen

create table closing.run_costs as
from result.run_costs where month in (select month from closing.months);

delete from result.run_costs where month in (select month from closing.months);

insert into result.run_costs by name
from given_frozen_run_costs;
