-- table: report.failed_controls
-- grain: one subject of one control that fails; a control without a month stands in every month
-- key: month, control, subject
-- units: as the control's subject says (money, barrels, or the stock unit)
-- reads: report.months, report.control_names, result.controls
-- rule: K1, K2, K3, K4, K5, K6, K7, K8, K9
-- source: none; presentation

create table report.failed_controls (
    month text not null,
    control text not null,
    place bigint,
    about text,
    says text,
    subject text,
    expected decimal(18,6),
    actual decimal(18,6),
    difference decimal(18,6)
);

insert into report.failed_controls by name
select
    months.month,
    controls.control,
    names.place,
    names.about,
    names.says,
    controls.subject,
    controls.expected,
    controls.actual,
    controls.difference
from report.months as months
join result.controls as controls on controls.month = months.month or controls.month is null
left join report.control_names as names on names.control = controls.control
where controls.holds is not true;
