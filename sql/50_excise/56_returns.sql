-- table: excise.returns
-- grain: one return a site has to file: what it comes to, and when it is due
-- key: area, site, period
-- units: money in currency
-- reads: excise.filer_periods, excise.duty, excise.adjustments, excise.return_records, reference.areas
-- rule: X6, X7, X10
-- source: due dates and discounts as the area files say

create table excise.returns (
    area text not null,
    site text not null,
    period text not null,
    from_date date not null,
    to_date date not null,
    due_date date,
    pay_date date,
    currency text not null,
    tax decimal(18,6) not null,
    increasing decimal(18,6) not null,  -- of earlier returns already filed
    decreasing decimal(18,6) not null,
    interest decimal(18,6) not null,    -- on what increases it, where the rates are known
    to_pay decimal(18,6) not null,
    discount decimal(18,6) not null,    -- what may be kept back, on the terms of discount_when
    discount_when text,
    paid decimal(18,6) not null,
    left_to_pay decimal(18,6) not null,
    filed_on date,
    filed_amount decimal(18,6)
);

insert into excise.returns by name
with taxes as (
    select area, site, period, sum(amount) as tax
    from excise.duty
    group by area, site, period
),
adjusted as (
    select area, site, next_period as period, sum(greatest(difference, 0)) as increasing,
        -sum(least(difference, 0)) as decreasing, coalesce(sum(interest), 0) as interest
    from excise.adjustments
    where next_period is not null
    group by all
),
paid as (
    select area, site, period, sum(amount) as paid, sum(interest) as interest_paid
    from excise.return_records
    where kind = 'payment'
    group by area, site, period
),
filed as (
    select area, site, period, date as filed_on, amount as filed_amount
    from excise.return_records
    where kind = 'filing' and last
),
lines as (
    select
        periods.area, periods.site, periods.period, periods.from_date, periods.to_date, periods.due_date,
        periods.pay_date, areas.currency, areas.discount_pct, areas.discount_when, areas.money_places, areas.money_mode,
        coalesce(filed.filed_amount, taxes.tax, 0)::decimal(18,6) as tax,
        coalesce(adjusted.increasing, 0)::decimal(18,6) as increasing,
        coalesce(adjusted.decreasing, 0)::decimal(18,6) as decreasing,
        coalesce(adjusted.interest, 0)::decimal(18,6) as interest,
        -- Interest paid beyond what is computed here is a bill of the authority's, not tax paid ahead.
        (coalesce(paid.paid, 0) + least(coalesce(paid.interest_paid, 0), coalesce(adjusted.interest, 0)))::decimal(18,6) as paid,
        filed.filed_on, filed.filed_amount
    from excise.filer_periods as periods
    join reference.areas as areas on areas.area = periods.area
    left join taxes on taxes.area = periods.area and taxes.site = periods.site and taxes.period = periods.period
    left join adjusted
        on adjusted.area = periods.area and adjusted.site = periods.site and adjusted.period = periods.period
    left join paid on paid.area = periods.area and paid.site = periods.site and paid.period = periods.period
    left join filed on filed.area = periods.area and filed.site = periods.site and filed.period = periods.period
)
select
    area, site, period, from_date, to_date, due_date, pay_date, currency, tax, increasing, decreasing, interest,
    tax + increasing + interest - decreasing as to_pay,
    rounded(coalesce(discount_pct, 0)::decimal(28,6) * tax * 0.01, money_places, money_mode) as discount,
    case when discount_pct is not null then discount_when end as discount_when,
    paid,
    tax + increasing + interest - decreasing - paid as left_to_pay,
    filed_on, filed_amount
from lines;
