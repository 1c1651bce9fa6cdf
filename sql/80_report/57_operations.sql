-- table: report.operations
-- grain: one line of one site's statement of operations of a month, its columns side by side
-- key: month, site, form_line
-- units: bbl, two decimals
-- reads: result.operations
-- rule: X8
-- source: none; presentation

create table report.operations (
    month text not null,
    site text not null,
    form_line bigint not null,
    text text not null,
    cellar decimal(18,6),
    racking_bulk decimal(18,6),
    racking_keg decimal(18,6),
    bottling_bulk decimal(18,6),
    bottling_case decimal(18,6),
    total decimal(18,6),
    primary key (month, site, form_line)
);

insert into report.operations by name
select
    period as month, site, form_line, any_value(text) as text,
    sum(bbl) filter (where form_column = 'cellar') as cellar,
    sum(bbl) filter (where form_column = 'racking bulk') as racking_bulk,
    sum(bbl) filter (where form_column = 'racking keg') as racking_keg,
    sum(bbl) filter (where form_column = 'bottling bulk') as bottling_bulk,
    sum(bbl) filter (where form_column = 'bottling case') as bottling_case,
    sum(bbl) filter (where form_column = 'total') as total
from result.operations
where not contains(period, 'Q')
group by period, site, form_line;
