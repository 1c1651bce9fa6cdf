-- table: report.findings
-- grain: one finding in one month; a finding without a month stands in every month
-- key: none
-- units: none
-- reads: report.months, control.findings
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
    depends_on text,
    accepted text,
    place bigint not null
);

insert into report.findings by name
-- First what stands by itself, then what may go away with it.
select findings.* exclude (month), months.month,
    case when findings.accepted is not null then 2 when findings.depends_on is not null then 1 else 0 end as place
from report.months as months
join control.findings as findings on findings.month = months.month or findings.month is null;
