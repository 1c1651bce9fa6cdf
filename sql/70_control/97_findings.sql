-- table: control.findings
-- grain: one finding, open or accepted
-- key: none
-- units: none
-- reads: result.problems, result.accepted, control.dependents
-- rule: severity
-- source: an error cannot be accepted

-- depends_on: the place of the row it may go away with. accepted: of a warning somebody accepted, why, who and when.
create table control.findings (
    severity text not null,
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    expected text,
    message text not null,
    action text,
    depends_on text,
    accepted text
);

insert into control.findings by name
select problems.*, dependents.depends_on,
    case when accepted.code is not null
        then concat_ws(', ', accepted.why, nullif(accepted.who, ''), accepted.accepted_on::text)
    end as accepted
from result.problems as problems
left join control.dependents as dependents
    on dependents.code = problems.code and dependents.message = problems.message
    and dependents.month is not distinct from problems.month
    and dependents.file is not distinct from problems.file
    and dependents.sheet is not distinct from problems.sheet
    and dependents.row is not distinct from problems.row
    and dependents.field is not distinct from problems.field
left join result.accepted as accepted
    on problems.severity = 'warning' and accepted.code = problems.code
    and accepted.month is not distinct from problems.month
    and accepted.file is not distinct from problems.file
    and accepted.sheet is not distinct from problems.sheet
    and accepted.row is not distinct from problems.row
    and accepted.field is not distinct from problems.field
    and accepted.value is not distinct from problems.value
    and accepted.told is not distinct from case when problems.file is null then problems.message end;
