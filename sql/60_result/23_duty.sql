-- table: result.duty
-- grain: one band of one return
-- key: area, site, period, band
-- units: quantity in `unit`; rate and amount in `currency`
-- reads: excise.duty
-- rule: X5, X6, X7
-- source: each row carries its own

create table result.duty (
    area text not null,
    site text,
    period text not null,
    band text not null,
    from_date date not null,
    to_date date not null,
    quantity decimal(18,6) not null,
    unit text,
    rate decimal(28,10),
    amount decimal(18,6) not null,
    currency text,
    due_date date,
    source text
);

insert into result.duty by name
select area, site, period, band, from_date, to_date, quantity, unit, rate, amount, currency, due_date, source
from excise.duty;
