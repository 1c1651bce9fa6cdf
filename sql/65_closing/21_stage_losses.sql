-- table: closing.stage_losses
-- grain: one row of result.stage_losses in a closed month, as computed now
-- key: that of result.stage_losses
-- units: those of result.stage_losses
-- reads: result.stage_losses, closing.months, given_frozen_stage_losses
-- rule: none
-- source: result.stage_losses shows a closed month as it was frozen

create table closing.stage_losses as
from result.stage_losses where month in (select month from closing.months);

delete from result.stage_losses where month in (select month from closing.months);

insert into result.stage_losses by name
from given_frozen_stage_losses;
