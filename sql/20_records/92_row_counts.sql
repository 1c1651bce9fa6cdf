-- table: record.row_counts
-- grain: one file or sheet
-- key: file, sheet
-- units: rows
-- reads: given_sheets, record.raw_rows
-- rule: K8
-- source: inputs

-- rows_read is counted when the file is read, the others from what became of each row.
create table record.row_counts (
    file text not null,
    sheet text,
    kind text not null,
    rows_read bigint not null,
    rows_accepted bigint not null,
    rows_set_aside bigint not null,
    rows_ignored bigint not null
);

insert into record.row_counts by name
with became as (
    select
        file,
        sheet,
        count(*) filter (where state = 'accepted') as rows_accepted,
        count(*) filter (where state = 'set aside') as rows_set_aside,
        count(*) filter (where state in ('blank', 'example', 'totals', 'replaced', 'repeated')) as rows_ignored
    from record.raw_rows
    group by file, sheet
)
select
    sheets.file,
    sheets.sheet,
    sheets.kind,
    sheets.rows_read,
    coalesce(became.rows_accepted, 0) as rows_accepted,
    coalesce(became.rows_set_aside, 0) as rows_set_aside,
    coalesce(became.rows_ignored, 0) as rows_ignored
from given_sheets as sheets
left join became
    on became.file = sheets.file and became.sheet is not distinct from sheets.sheet;
