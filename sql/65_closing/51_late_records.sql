-- table: result.late_records
-- grain: one record that came, changed or went after a month it can touch was closed
-- key: booked_month, change, kind, file, sheet, row
-- units: as the record; month: the first it can touch, null for any
-- reads: closing.record_changes, closing.turn, closing.months, given_frozen_records
-- rule: none
-- source: booked_month is the first month that was open when the record came; kinds beside those of the records: `settings`
--   (brewery.toml), `areas` (an area file) and `program` (the rules of another version)

create table result.late_records (
    booked_month text not null,
    change text not null,
    kind text not null,
    file text not null,
    sheet text,
    row bigint,
    month text,
    cells text,
    before_cells text
);

insert into result.late_records by name
select turn.first_open as booked_month, changes.*
from closing.record_changes as changes
join closing.turn on coalesce(changes.month, turn.last_closed) <= turn.last_closed
union all by name
select changes.*
from given_frozen_records as changes
where booked_month > (select min(month) from closing.months) and coalesce(month, '') < booked_month;
