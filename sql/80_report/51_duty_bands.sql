-- table: report.duty_bands
-- grain: one band of one return period that touches one month
-- key: month, area, site, period, band
-- units: quantity in unit, rate per unit, amount in currency
-- reads: report.months, result.duty
-- rule: X5, X6
-- source: none; presentation

create table report.duty_bands (
    month text not null,
    area text not null,
    site text,
    period text not null,
    band text,
    from_date date,
    to_date date,
    quantity decimal(18,6),
    unit text,
    rate decimal(28,10),
    amount decimal(18,6),
    currency text,
    due_date date,
    source text
);

insert into report.duty_bands by name
select
    months.month,
    duty.area,
    duty.site,
    duty.period,
    duty.band,
    duty.from_date,
    duty.to_date,
    duty.quantity,
    duty.unit,
    duty.rate,
    duty.amount,
    duty.currency,
    duty.due_date,
    duty.source
from report.months as months
join result.duty as duty on duty.from_date <= months.last_day and duty.to_date >= months.first_day;
