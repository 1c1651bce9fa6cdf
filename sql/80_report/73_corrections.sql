-- table: report.corrections
-- grain: one figure of a closed month that is corrected in a month
-- key: month, closed_month, result_table, subject, figure
-- units: as the figure
-- reads: result.corrections
-- rule: none
-- source: none; presentation

create table report.corrections (
    month text not null,
    closed_month text not null,
    result_table text not null,
    subject text not null,
    figure text not null,
    booked decimal(28,10) not null,
    recomputed decimal(28,10) not null,
    difference decimal(28,10) not null,
    account text,
    caused_by text
);

insert into report.corrections by name
select booked_month as month, * exclude (booked_month)
from result.corrections;
