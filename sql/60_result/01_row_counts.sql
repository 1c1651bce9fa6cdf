-- table: result.row_counts
-- grain: one file or sheet that was read
-- key: file, sheet
-- units: rows
-- reads: record.row_counts
-- rule: K8
-- source: the input files

create table result.row_counts (
    file text not null,
    sheet text,
    rows_read bigint not null,
    rows_accepted bigint not null,
    rows_set_aside bigint not null,
    rows_ignored bigint not null
);

insert into result.row_counts by name
select file, sheet, rows_read, rows_accepted, rows_set_aside, rows_ignored
from record.row_counts;
