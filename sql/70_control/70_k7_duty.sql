-- table: control.k7_duty
-- grain: one area and site in a month: duty; one area: barrels
-- key: month, subject
-- units: money, the area's unit
-- reads: excise.duty, excise.duty_months, excise.removal_duty
-- rule: K7, X6
-- source: duty by authority = the duty shared to its removals; months add up to the returns

create table control.k7_duty (
    month text,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k7_duty by name
with
shared as (
    select month, area, site, sum(amount) as amount
    from excise.removal_duty
    group by month, area, site
),
accrued as (
    select month, area, site, sum(amount) as amount, sum(quantity) as quantity
    from excise.duty_months
    group by month, area, site
),
returns as (
    select area, site, sum(amount) as amount, sum(quantity) filter (where counts) as quantity
    from excise.duty
    group by area, site
),
months as (
    select area, site, sum(amount) as amount, sum(quantity) as quantity from accrued group by area, site
)
select month, 'K7' as control, concat_ws(' · ', area, site, 'duty shared to removals') as subject,
    coalesce(accrued.amount, 0) as expected, coalesce(shared.amount, 0) as actual
from accrued
full join shared using (month, area, site)
union all by name
select null as month, 'K7' as control, concat_ws(' · ', area, site, 'duty of all months and of all returns') as subject,
    coalesce(returns.amount, 0) as expected, coalesce(months.amount, 0) as actual
from returns
full join months using (area, site)
union all by name
select null as month, 'K7' as control,
    concat_ws(' · ', area, site, 'quantity of all months and of all returns') as subject,
    coalesce(returns.quantity, 0) as expected, coalesce(months.quantity, 0) as actual
from returns
full join months using (area, site);
