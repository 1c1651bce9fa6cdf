-- table: result.duty_months
-- grain: one area and site in a month
-- key: area, site, month
-- units: quantity in the area's unit, money in its currency; opening + correction + amount - paid =
--   owed, which stands open at the month's end
-- reads: excise.duty_months
-- rule: X6
-- source: a month is the return period to date less what its earlier months showed, so months add up to the return

create table result.duty_months (
    area text not null,
    site text,
    month text not null,
    opening decimal(18,6) not null,
    correction decimal(18,6) not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null,
    paid decimal(18,6) not null,
    owed decimal(18,6) not null
);

insert into result.duty_months by name
select area, site, month, owed - amount + paid as opening, 0 as correction, quantity, amount, paid, owed
from excise.duty_months;
