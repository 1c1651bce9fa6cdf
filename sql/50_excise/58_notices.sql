-- table: excise.notices
-- grain: one limit of a return period passed in a year
-- key: area, year, length
-- units: tax in the area's currency
-- reads: excise.day_bands, excise.filers, reference.rates, reference.return_periods, record.opening_duty, reference.settings
-- rule: X7
-- source: 26 U.S.C. 5061(d)(4)(B); the tax of the year over all sites of the brewer

create table excise.notices (
    area text not null,
    year bigint not null,
    length text not null,
    at_most_tax decimal(18,6) not null,
    date date not null,         -- the day on which the year's tax first exceeds it
    tax decimal(18,6) not null,
    next_length text,
    next_period text,           -- the period of the shorter length that holds that day
    next_due date,
    source text not null
);

insert into excise.notices by name
with lengths as (
    select distinct area, length, at_most_tax, source
    from reference.return_periods
),
-- The next shorter length: the next higher limit, or none at all.
longer as (
    select lengths.*, shorter.length as next_length
    from lengths
    left join lengths as shorter
        on shorter.area = lengths.area
        and (shorter.at_most_tax > lengths.at_most_tax or shorter.at_most_tax is null)
        and not contains(shorter.length, 'EFT')
    where lengths.at_most_tax is not null
    qualify row_number() over (
        partition by lengths.area, lengths.length order by shorter.at_most_tax nulls last
    ) = 1
),
days as (
    select bands.area, year(bands.date) as year, bands.date,
        sum(divide10(bands.measure, rates.litres_per_unit) * rates.rate)::decimal(28,6) as tax
    from excise.day_bands as bands
    join reference.rates as rates on rates.rate_id = bands.rate_id
    group by all
),
opening as (
    select opening.area, year(settings.first_day) as year, sum(coalesce(opening.tax_accrued, 0)) as tax
    from record.opening_duty as opening
    cross join reference.settings as settings
    group by all
),
running as (
    select days.area, days.year, days.date,
        (coalesce(opening.tax, 0) + sum(days.tax) over (
            partition by days.area, days.year order by days.date
        ))::decimal(18,6) as tax
    from days
    left join opening on opening.area = days.area and opening.year = days.year
),
crossed as (
    select running.area, running.year, longer.length, longer.at_most_tax, longer.next_length, longer.source,
        min(running.date) as date, min(running.tax) as tax
    from running
    join longer on longer.area = running.area and running.tax > longer.at_most_tax
    semi join excise.filers as filers on filers.area = longer.area and filers.length = longer.length
    group by all
)
select crossed.*, periods.period as next_period, periods.due_date as next_due
from crossed
left join reference.return_periods as periods
    on periods.area = crossed.area and periods.length = crossed.next_length
    and crossed.date between periods.from_date and periods.to_date;
