-- table: reference.return_periods
-- grain: one return period of one length of one area
-- key: area, length, period
-- units: at_most_tax in the area's currency a year
-- reads: given_return_periods
-- rule: X7
-- source: each row's own source

create table reference.return_periods (
    area text not null,
    length text not null,
    period text not null,
    from_date date not null,
    to_date date not null,
    due_date date,              -- of the return; null: not in the sources read
    pay_date date,
    at_most_tax decimal(18,6),
    source text not null
);

insert into reference.return_periods by name
select * from given_return_periods;
