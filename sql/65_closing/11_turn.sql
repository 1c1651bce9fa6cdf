-- table: closing.turn
-- grain: the turn from the last closed month to the first open one (one row, or none where no month is closed)
-- key: none
-- units: none
-- reads: closing.months
-- rule: none
-- source: months are closed in order, so those closed come before all that are open

create table closing.turn (
    last_closed text not null,
    first_open text not null
);

insert into closing.turn by name
select max(month) as last_closed, strftime((max(month) || '-01')::date + interval 1 month, '%Y-%m') as first_open
from closing.months
having count(*) > 0;
