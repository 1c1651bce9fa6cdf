-- table: report.operation_checks
-- grain: one published cross-check of a statement of operations of the month, or of the quarter it belongs to
-- key: month, site, period, check_no, form_column
-- units: bbl
-- reads: report.months, result.operation_checks
-- rule: X8
-- source: none; presentation

create table report.operation_checks (
    month text not null,
    site text not null,
    period text not null,
    check_no bigint not null,
    form_column text not null,
    text text not null,
    expected decimal(18,6) not null,
    actual decimal(18,6) not null,
    state text not null
);

insert into report.operation_checks by name
select months.month, checks.site, checks.period, checks.check_no, checks.form_column, checks.text, checks.expected,
    checks.actual, case when checks.holds then 'holds' when checks.check_no = 10 then 'explain, or pay' else 'FAILS' end
        as state
from report.months as months
join result.operation_checks as checks
    on checks.period = months.month
    or checks.period = strftime(months.last_day, '%Y') || '-Q' || quarter(months.last_day);
