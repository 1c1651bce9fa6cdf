-- table: result.accepted
-- grain: one warning that somebody accepted
-- key: code, month, file, sheet, row, field, value, told
-- units: none
-- reads: given_accepted
-- rule: severity
-- source: accepted.csv in the brewery's folder

-- A finding of another month, or whose value has changed since, is another one and open; where there is
-- no file, what was told of it tells it apart too.
create table result.accepted (
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    told text,
    why text not null,
    who text,
    accepted_on date
);

insert into result.accepted by name
select code, month, file, sheet, row, field, value, case when file is null then message end as told,
    coalesce(why, '') as why, who, try_cast(accepted_on as date) as accepted_on
from given_accepted
qualify row_number() over (partition by code, month, file, sheet, row, field, value, told order by accepted_on desc, why, who) = 1;
