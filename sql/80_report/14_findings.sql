-- table: report.findings
-- grain: one finding in one month; a finding without a month stands in every month
-- key: none
-- units: none
-- reads: report.months, result.problems
-- rule: none
-- source: none; presentation

create table report.findings (
    month text not null,
    severity text not null,
    code text,
    file text,
    sheet text,
    "row" bigint,
    field text,
    value text,
    expected text,
    message text,
    action text
);

insert into report.findings by name
select
    months.month,
    problems.severity,
    problems.code,
    problems.file,
    problems.sheet,
    problems."row",
    problems.field,
    problems.value,
    problems.expected,
    problems.message,
    problems.action
from report.months as months
join result.problems as problems on problems.month = months.month or problems.month is null;
