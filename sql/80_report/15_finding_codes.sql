-- table: report.finding_codes
-- grain: one kind of finding of one month
-- key: month, severity, code
-- units: none
-- reads: report.findings
-- rule: none
-- source: none; presentation

create table report.finding_codes (
    month text not null,
    severity text not null,
    code text,
    finding_count bigint not null
);

insert into report.finding_codes by name
select month, severity, code, count(*) as finding_count
from report.findings
where accepted is null
group by all;
