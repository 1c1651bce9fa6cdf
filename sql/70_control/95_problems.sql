-- table: result.problems
-- grain: one finding
-- key: none
-- units: none
-- reads: record.problems, volume.problems, cost.problems, excise.problems, result.controls
-- rule: severity
-- source: an error stops the close; a warning is judged from plausibility

create table result.problems (
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
    action text
);

insert into result.problems by name
select * exclude (depends_on)
from record.problems
union all by name from volume.problems
union all by name from cost.problems
union all by name from excise.problems
union all by name
select 'error' as severity, 'control-failed' as code, month, control as field, actual::text as value,
    expected::text as expected,
    'control ' || control || ' fails for ' || subject || ': ' || expected || ' against ' || actual
        || ', a difference of ' || difference as message,
    'put the findings above right; where there are none this is a fault of the program' as action
from result.controls
where not holds;
