-- table: excise.adjustments
-- grain: one filed return that the records no longer agree with
-- key: area, site, period
-- units: quantity in the area's unit, amounts in its currency
-- reads: excise.filer_periods, excise.duty, excise.return_records, reference.interest_rates
-- rule: X10
-- source: a return as filed no longer moves: what changed goes on the next one; interest on what was paid too little runs
--   from the day it was due to the day the next return is (26 U.S.C. 6601, 6621, 6622); none on what comes back (27 CFR 25.281)

create table excise.adjustments (
    area text not null,
    site text not null,
    period text not null,
    next_period text,           -- the first return after it that is not filed; null: none yet in the books
    filed_on date not null,
    serial text,
    filed_quantity decimal(18,6) not null,
    quantity decimal(18,6) not null,
    filed_amount decimal(18,6) not null,
    amount decimal(18,6) not null,
    difference decimal(18,6) not null,
    rate decimal(18,6),         -- where one rate of the period explains the whole difference
    interest decimal(18,6),     -- null: the area file has no rate for some of the days
    interest_unverified boolean,
    direction text not null check (direction in ('increasing', 'decreasing')),
    file text not null,
    sheet text,
    row bigint not null
);

insert into excise.adjustments by name
with computed as (
    select area, site, period, sum(quantity) filter (where counts) as quantity, sum(amount) as amount
    from excise.duty
    group by area, site, period
),
filed as (
    select periods.area, periods.site, periods.period, periods.from_date, periods.pay_date,
        filings.date as filed_on, filings.serial, filings.quantity as filed_quantity, filings.amount as filed_amount,
        filings.file, filings.sheet, filings.row
    from excise.return_records as filings
    join excise.filer_periods as periods
        on periods.area = filings.area and periods.site = filings.site and periods.period = filings.period
    where filings.kind = 'filing' and filings.last
),
followed as (
    select filed.area, filed.site, filed.period, arg_min(later.period, later.from_date) as next_period,
        arg_min(later.pay_date, later.from_date) as next_pay_date
    from filed
    join excise.filer_periods as later
        on later.area = filed.area and later.site = filed.site and later.from_date > filed.from_date
    anti join filed as others
        on others.area = later.area and others.site = later.site and others.period = later.period
    group by filed.area, filed.site, filed.period
),
differences as (
    select
        filed.* exclude (from_date, pay_date), followed.next_period, filed.pay_date as owed_from,
        followed.next_pay_date as owed_until, computed.quantity, computed.amount,
        computed.amount - filed.filed_amount as difference
    from filed
    join computed on computed.area = filed.area and computed.site = filed.site and computed.period = filed.period
    left join followed on followed.area = filed.area and followed.site = filed.site and followed.period = filed.period
    where computed.amount <> filed.filed_amount
),
explained as (
    select differences.area, differences.site, differences.period, min(duty.rate) as rate
    from differences
    join excise.duty as duty
        on duty.area = differences.area and duty.site = differences.site and duty.period = differences.period
        and duty.counts
        and round((differences.quantity - differences.filed_quantity)::decimal(28,6) * duty.rate, 2) = differences.difference
    group by differences.area, differences.site, differences.period
    having count(distinct duty.rate) = 1
),
-- The days of each rate within the time: interest of a day falls on the tax, and where it is compounded on the interest
-- before it. A power of so many days is no decimal; the result is rounded to the cent.
stretches as (
    select
        differences.area, differences.site, differences.period, rates.compounded, rates.unverified,
        rates.rate_pct::double / 100 / case when days_in_year.days = 366 then 366 else 365 end as daily,
        least(differences.owed_until, coalesce(rates.to_date, differences.owed_until), days_in_year.last_day)
            - greatest(differences.owed_from, rates.from_date - 1, days_in_year.first_day - 1) as days
    from differences
    join reference.interest_rates as rates
        on rates.area = differences.area and rates.from_date <= differences.owed_until
        and coalesce(rates.to_date, differences.owed_until) > differences.owed_from
    cross join (
        select make_date(year, 1, 1) as first_day, make_date(year, 12, 31) as last_day,
            make_date(year + 1, 1, 1) - make_date(year, 1, 1) as days
        from (select unnest(range(1990, 2101))::bigint as year)
    ) as days_in_year
    where differences.difference > 0
        and days_in_year.first_day <= differences.owed_until and days_in_year.last_day > differences.owed_from
),
grown as (
    select area, site, period, sum(days) as days,
        exp(coalesce(sum(days * ln(1 + daily)) filter (where compounded = 'daily'), 0))
            + coalesce(sum(days * daily) filter (where compounded = 'never'), 0) - 1 as part,
        bool_or(unverified) as unverified
    from stretches
    where days > 0
    group by area, site, period
)
select
    differences.* exclude (owed_from, owed_until),
    explained.rate,
    case
        when differences.difference < 0 then 0
        when grown.days = differences.owed_until - differences.owed_from
            then round(differences.difference::double * grown.part, 2)
    end::decimal(18,6) as interest,
    grown.unverified as interest_unverified,
    case when differences.difference > 0 then 'increasing' else 'decreasing' end as direction
from differences
left join explained
    on explained.area = differences.area and explained.site = differences.site and explained.period = differences.period
left join grown
    on grown.area = differences.area and grown.site = differences.site and grown.period = differences.period;
