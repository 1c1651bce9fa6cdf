-- table: result.returns
-- grain: one return a site has to file: what it comes to, when it is due, what is paid
-- key: area, site, period
-- units: money in currency
-- reads: excise.returns
-- rule: X6, X7, X10
-- source: due dates and discounts as the area files say; tax is what was filed where it was filed, and what the records
--   changed since stands as an adjustment on the next return. result.duty shows what the records give now.

create table result.returns (
    area text not null,
    site text not null,
    period text not null,
    from_date date not null,
    to_date date not null,
    due_date date,
    pay_date date,
    currency text not null,
    tax decimal(18,6) not null,
    increasing decimal(18,6) not null,
    decreasing decimal(18,6) not null,
    interest decimal(18,6) not null,
    to_pay decimal(18,6) not null,
    discount decimal(18,6) not null,
    discount_when text,
    paid decimal(18,6) not null,
    left_to_pay decimal(18,6) not null,
    filed_on date,
    filed_amount decimal(18,6),
    primary key (area, site, period)
);

insert into result.returns by name
select area, site, period, from_date, to_date, due_date, pay_date, currency, tax, increasing, decreasing, interest, to_pay, discount,
    discount_when, paid, left_to_pay, filed_on, filed_amount
from excise.returns;
