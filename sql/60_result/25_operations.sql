-- table: result.operations
-- grain: one line and column of one site's statement of operations, of one month or quarter
-- key: site, period, form_line, form_column
-- units: bbl, two decimals
-- reads: excise.operations
-- rule: X8
-- source: TTB F 5130.9, wording of 2014

create table result.operations (
    site text not null,
    period text not null,
    form_line bigint not null,
    form_column text not null,
    text text not null,
    bbl decimal(18,6) not null,
    primary key (site, period, form_line, form_column)
);

insert into result.operations by name
select site, period, form_line, form_column, text, bbl
from excise.operations;
