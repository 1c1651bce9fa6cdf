-- table: result.open_problems
-- grain: one finding that is open: an error, or a warning nobody accepted
-- key: none
-- units: none
-- reads: control.findings
-- rule: severity
-- source: an error cannot be accepted

create table result.open_problems (
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
    depends_on text
);

insert into result.open_problems by name
select * exclude (accepted)
from control.findings
where accepted is null;
