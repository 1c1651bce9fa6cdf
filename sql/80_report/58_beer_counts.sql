-- table: report.beer_counts
-- grain: one count of beer
-- key: file, sheet, row
-- units: `unit`
-- reads: result.counts
-- rule: X8, X9
-- source: 27 CFR 25.294; none else, presentation

create table report.beer_counts (
    month text not null,
    date date not null,
    counted_on date not null,
    site text not null,
    what text not null,
    subject text not null,
    unit text not null,
    book decimal(18,6) not null,
    at_the_day decimal(18,6) not null,
    difference decimal(18,6) not null,
    said text not null,
    explanation text,
    file text not null,
    sheet text,
    row bigint not null
);

insert into report.beer_counts by name
select month, date, counted_on, site, what, subject, unit, book, at_the_day, difference,
    case
        when what = 'lot' then 'a reading: the book stays'
        when difference < 0 and explanation is null then 'short: explain, or pay'
        when difference < 0 then 'short: line 31'
        when difference > 0 then 'over: line 11'
        else 'agrees'
    end as said,
    explanation,
    file, sheet, row
from result.counts
where what <> 'material';
