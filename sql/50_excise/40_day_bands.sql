-- table: excise.day_bands
-- grain: the part of a day's beer that falls into one band
-- key: area, tax, class, degree, relief, site, date, form, rate_id, adjustment
-- units: measure as excise.taxed
-- reads: excise.days, excise.filers, reference.rates, reference.areas, record.opening_duty, reference.settings
-- rule: X5, X10
-- source: 26 U.S.C. 5051(a)(2): one counter over every site, in order of date; the day that crosses is split

create table excise.day_bands (
    area text not null,
    tax text not null,
    class bigint not null,
    degree decimal(18,6),
    relief text,
    site text not null,
    date date not null,
    month text not null,
    form text not null,
    rate_id text not null,
    adjustment boolean not null,
    measure decimal(28,10) not null
);

insert into excise.day_bands by name
with counted as (
    select
        days.*,
        rates.counter,
        counting_year(days.date, areas.counter_month) as counter_year,
        counting_year(settings.first_day, areas.counter_month) as first_counter_year,
        case when rates.basis = 'bbl' and rates.litres_per_unit = 1 then 1 else 117.347765304 end::decimal(18,9)
            as measure_per_bbl
    from excise.days as days
    join reference.areas as areas on areas.area = days.area
    join reference.rates as rates on rates.area = days.area and rates.class = days.class and rates.band_no = 1
    cross join reference.settings as settings
),
opening as (
    select area, sum(removed_bbl)::decimal(18,6) as removed_bbl
    from record.opening_duty
    where removed_bbl is not null
    group by area
),
running as (
    select
        counted.*,
        (sum(counted.taxable) over (
            partition by counted.area, counted.tax, counted.counter, counted.counter_year
            order by counted.date, counted.site, counted.form, counted.class, counted.degree, counted.relief
            rows between unbounded preceding and current row
        ) + case
            when counted.counter_year = counted.first_counter_year
                then coalesce(opening.removed_bbl, 0)::decimal(28,10) * counted.measure_per_bbl
            else 0
        end)::decimal(28,10) as reached
    from counted
    left join opening on opening.area = counted.area
),
limits as (
    select
        running.*,
        rates.rate_id,
        band_edge(rates.over, rates.over_quota, filers.quota_bbl, rates.bands_litres) as low,
        band_edge(rates.up_to, rates.up_to_quota, filers.quota_bbl, rates.bands_litres) as high
    from running
    join reference.rates as rates on rates.area = running.area and rates.class = running.class
    join excise.filers as filers on filers.area = running.area and filers.site = running.site
),
pieces as (
    select
        * exclude (taxable, adjustment),
        false as adjustment,
        (greatest(least(reached, coalesce(high, reached)), low)
            - greatest(least(reached - taxable, coalesce(high, reached - taxable)), low))::decimal(28,10) as measure
    from limits
    where counter is not null
    union all by name
    select counted.* exclude (taxable, adjustment), rates.rate_id, false as adjustment, taxable as measure
    from counted
    join reference.rates as rates on rates.area = counted.area and rates.class = counted.class and rates.band_no = 1
    where counted.counter is null
    union all by name
    -- What is given back beyond the day's removals goes at the first band's rate (27 CFR 25.281).
    select counted.* exclude (taxable, adjustment), rates.rate_id, true as adjustment, counted.adjustment as measure
    from counted
    join reference.rates as rates on rates.area = counted.area and rates.class = counted.class and rates.band_no = 1
)
select area, tax, class, degree, relief, site, date, month, form, rate_id, adjustment, measure
from pieces
where measure <> 0;
