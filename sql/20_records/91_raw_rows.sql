-- table: record.raw_rows
-- grain: one row of a file or sheet, below the headings
-- key: file, sheet, row
-- units: none
-- reads: given_rows
-- rule: K8
-- source: inputs

-- cells: the text as read, by heading, of rows that did not become a record.
create table record.raw_rows (
    file text not null,
    sheet text,
    row bigint not null,
    kind text not null,
    state text not null,
    cells text
);

insert into record.raw_rows by name
select file, sheet, row, kind, state, cells
from given_rows;
