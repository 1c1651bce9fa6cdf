-- table: report.late_records
-- grain: one record that came, changed or went after a month it can touch was closed
-- key: month, change, kind, file, sheet, row
-- units: none
-- reads: result.late_records
-- rule: none
-- source: none; presentation

create table report.late_records (
    month text not null,
    change text not null,
    kind text not null,
    file text not null,
    sheet text,
    row bigint,
    touches text not null,
    said text,
    said_before text
);

insert into report.late_records by name
select
    booked_month as month, change, kind, file, sheet, row, coalesce('from ' || month, 'any month') as touches,
    plain_record(cells) as said, plain_record(before_cells) as said_before
from result.late_records;
