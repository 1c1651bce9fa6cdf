-- table: control.k10_closed
-- grain: one closed month
-- key: month, subject
-- units: tables
-- reads: given_closed_files
-- rule: K10
-- source: every table of a closed month has the hash it was closed with, and the close the hash of the one before it

create table control.k10_closed (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k10_closed by name
select month, 'K10' as control, 'frozen tables as they were closed' as subject, count(*) as expected,
    count(*) filter (where recorded_hash = found_hash) as actual
from given_closed_files
group by month;
