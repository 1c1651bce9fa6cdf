-- table: report.findings
-- grain: one finding in one month; a finding without a month stands in every month
-- key: none
-- units: none
-- reads: report.months, result.problems, result.accepted
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
    action text,
    accepted text
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
    problems.action,
    -- Of a warning somebody accepted: why, who and when. An error cannot be accepted.
    case when accepted.code is not null then concat_ws(', ', accepted.why, nullif(accepted.who, ''), accepted.accepted_on::text) end as accepted
from report.months as months
join result.problems as problems on problems.month = months.month or problems.month is null
left join result.accepted as accepted
    on problems.severity = 'warning' and accepted.code = problems.code
    and accepted.month is not distinct from problems.month
    and accepted.file is not distinct from problems.file
    and accepted.sheet is not distinct from problems.sheet
    and accepted."row" is not distinct from problems."row"
    and accepted.field is not distinct from problems.field
    and accepted.value is not distinct from problems.value
    and accepted.told is not distinct from case when problems.file is null then problems.message end;
