-- table: excise.spans
-- grain: one month or quarter that operations are reported for
-- key: period
-- units: none
-- reads: record.months
-- rule: X8
-- source: 27 CFR 25.297

create table excise.spans (
    period text not null,
    first_day date not null,
    last_day date not null
);

insert into excise.spans by name
select month as period, first_day, last_day from record.months
union all by name
select strftime(first_day, '%Y') || '-Q' || quarter(first_day) as period, min(first_day) as first_day,
    max(last_day) as last_day
from record.months
group by all;
