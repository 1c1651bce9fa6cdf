-- table: report.operations
-- grain: one line of one site's statement of operations of a month, its columns side by side
-- key: month, site, form_line
-- units: bbl, two decimals
-- reads: result.operations, excise.operation_lines
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
-- Every line of the form, whether or not there is something on it.
select
    filled.period as month, filled.site, lines.form_line, coalesce(any_value(figures.text), lines.text) as text,
    sum(figures.bbl) filter (where figures.form_column = 'cellar') as cellar,
    sum(figures.bbl) filter (where figures.form_column = 'racking bulk') as racking_bulk,
    sum(figures.bbl) filter (where figures.form_column = 'racking keg') as racking_keg,
    sum(figures.bbl) filter (where figures.form_column = 'bottling bulk') as bottling_bulk,
    sum(figures.bbl) filter (where figures.form_column = 'bottling case') as bottling_case,
    sum(figures.bbl) filter (where figures.form_column = 'total') as total
from (select distinct site, period from result.operations where not contains(period, 'Q')) as filled
cross join excise.operation_lines as lines
left join result.operations as figures
    on figures.site = filled.site and figures.period = filled.period and figures.form_line = lines.form_line
group by filled.period, filled.site, lines.form_line, lines.text;
