-- table: report.controls
-- grain: one control of one month
-- key: month, control
-- units: worst_difference as the subject says (money, barrels, or the stock unit)
-- reads: report.months, report.control_names, result.controls
-- rule: K1, K2, K3, K4, K5, K6, K7, K8, K9
-- source: none; presentation

create table report.controls (
    month text not null,
    control text not null,
    place bigint,
    about text,
    says text,
    state text not null,
    checked_count bigint not null,
    failing_count bigint not null,
    worst_difference decimal(18,6),
    worst_subject text,
    primary key (month, control)
);

insert into report.controls by name
select
    months.month,
    controls.control,
    any_value(names.place) as place,
    any_value(names.about) as about,
    any_value(names.says) as says,
    case when bool_and(controls.holds is true) then 'holds' else 'FAILS' end as state,
    count(*) as checked_count,
    count(*) filter (where controls.holds is not true) as failing_count,
    coalesce(arg_max(controls.difference, (abs(controls.difference), controls.subject)), 0) as worst_difference,
    arg_max(controls.subject, (coalesce(abs(controls.difference), 0), controls.subject))
        filter (where controls.holds is not true) as worst_subject
from report.months as months
join result.controls as controls on controls.month = months.month or controls.month is null
left join report.control_names as names on names.control = controls.control
group by all;
