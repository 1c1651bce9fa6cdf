-- table: report.duty_due
-- grain: one return period that touches one month, its bands together; "so far" while the books end inside it
-- key: month, area, site, period
-- units: quantity in unit, amount in currency
-- reads: report.months, result.duty
-- rule: X6, X7
-- source: none; presentation

create table report.duty_due (
    month text not null,
    area text not null,
    site text not null,
    period text not null,
    from_date date,
    to_date date,
    quantity decimal(18,6),
    unit text,
    amount decimal(18,6),
    currency text,
    due_date date,
    state text not null,
    primary key (month, area, site, period)
);

insert into report.duty_due by name
select
    months.month,
    duty.area,
    coalesce(duty.site, 'all') as site,
    duty.period,
    min(duty.from_date) as from_date,
    max(duty.to_date) as to_date,
    sum(duty.quantity) as quantity,
    any_value(duty.unit) as unit,
    sum(duty.amount) as amount,
    any_value(duty.currency) as currency,
    min(duty.due_date) as due_date,
    case
        when max(duty.to_date) <= (select max(last_day) from report.months) then 'whole period in the books'
        else 'so far: the period is not over'
    end as state
from report.months as months
join result.duty as duty on duty.from_date <= months.last_day and duty.to_date >= months.first_day
group by months.month, duty.area, coalesce(duty.site, 'all'), duty.period;
