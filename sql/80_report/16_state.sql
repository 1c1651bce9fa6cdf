-- table: report.state
-- grain: one month: what its workbooks say of the books' state on their first sheet
-- key: month
-- units: none
-- reads: report.months, report.controls, report.finding_codes, result.problems, result.row_counts
-- rule: K8
-- source: none; presentation

create table report.state (
    month text primary key,
    controls_count bigint not null,
    failing_count bigint not null,
    errors_count bigint not null,
    warnings_count bigint not null,
    earlier_errors_count bigint not null,
    rows_read bigint not null,
    rows_set_aside bigint not null
);

insert into report.state by name
with controls as (
    select month, count(*) as controls_count, count(*) filter (where state <> 'holds') as failing_count
    from report.controls
    group by month
),
findings as (
    select
        month,
        sum(finding_count) filter (where severity = 'error') as errors_count,
        sum(finding_count) filter (where severity <> 'error') as warnings_count
    from report.finding_codes
    group by month
),
-- An earlier month with an error stops the close of this one too.
earlier as (
    select months.month, count(*) as earlier_errors_count
    from report.months as months
    join result.problems as problems on problems.month < months.month and problems.severity = 'error'
    group by months.month
),
counted as (
    select sum(rows_read) as rows_read, sum(rows_set_aside) as rows_set_aside
    from result.row_counts
)
select
    months.month,
    coalesce(controls.controls_count, 0) as controls_count,
    coalesce(controls.failing_count, 0) as failing_count,
    coalesce(findings.errors_count, 0) as errors_count,
    coalesce(findings.warnings_count, 0) as warnings_count,
    coalesce(earlier.earlier_errors_count, 0) as earlier_errors_count,
    coalesce(counted.rows_read, 0) as rows_read,
    coalesce(counted.rows_set_aside, 0) as rows_set_aside
from report.months as months
left join controls on controls.month = months.month
left join findings on findings.month = months.month
left join earlier on earlier.month = months.month
cross join counted;
