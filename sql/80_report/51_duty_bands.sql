-- table: report.duty_bands
-- grain: one band of one return period that touches one month
-- key: month, area, site, period, band
-- units: quantity in unit, rate per unit, amount in currency; a remission has none of them but the amount
-- reads: report.months, excise.duty
-- rule: X5, X6
-- source: none; presentation

create table report.duty_bands (
    month text not null,
    area text not null,
    site text,
    period text not null,
    place bigint not null,      -- 2 for what is remitted, which stands under the bands
    band text,
    from_date date,
    to_date date,
    quantity decimal(18,6),
    unit text,
    rate decimal(28,10),
    amount decimal(18,6),
    currency text,
    due_date date,
    compared text not null,     -- the day the rate was last compared with its source, or 'unverified'
    source text
);

insert into report.duty_bands by name
select
    months.month,
    duty.area,
    duty.site,
    duty.period,
    case when duty.rate is null then 2 else 1 end as place,
    duty.band,
    duty.from_date,
    duty.to_date,
    case when duty.unit is not null then duty.quantity end as quantity,
    duty.unit,
    duty.rate,
    duty.amount,
    duty.currency,
    duty.due_date,
    case when duty.unverified then 'unverified' else coalesce(duty.checked::text, 'unverified') end as compared,
    duty.source
from report.months as months
join excise.duty as duty on duty.from_date <= months.last_day and duty.to_date >= months.first_day;
