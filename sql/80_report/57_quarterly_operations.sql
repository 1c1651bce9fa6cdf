-- table: report.quarterly_operations
-- grain: one line of one site's quarterly report, of the quarter a month belongs to
-- key: month, site, form_line
-- units: bbl, two decimals
-- reads: report.months, excise.quarterly_operations
-- rule: X8
-- source: none; presentation

create table report.quarterly_operations (
    month text not null,
    site text not null,
    period text not null,
    form_line bigint not null,
    text text not null,
    bbl decimal(18,6) not null
);

insert into report.quarterly_operations by name
select months.month, lines.site, lines.period, lines.form_line, lines.text, lines.bbl
from report.months as months
join excise.quarterly_operations as lines
    on lines.period = strftime(months.last_day, '%Y') || '-Q' || quarter(months.last_day);
