-- table: result.accepted
-- grain: one warning that somebody accepted
-- key: code, file, sheet, row, field, value
-- units: none
-- reads: given_accepted
-- rule: severity
-- source: accepted.csv in the brewery's folder

-- A finding whose value has changed since is another one, and open again.
create table result.accepted (
    code text not null,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    why text not null,
    who text,
    accepted_on date
);

insert into result.accepted by name
select code, file, sheet, row, field, value, coalesce(why, '') as why, who, try_cast(accepted_on as date) as accepted_on
from given_accepted
qualify row_number() over (partition by code, file, sheet, row, field, value order by accepted_on desc) = 1;
