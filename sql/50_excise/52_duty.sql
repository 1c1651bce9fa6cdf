-- table: excise.duty
-- grain: one band of one return, or the remission that lowers it; every filer and period has a row, nil or not
-- key: area, site, period, rate_id, degree, relief, adjustment
-- units: quantity in unit; rate and amount in currency; a remission has neither unit nor rate
-- reads: excise.period_bands, excise.remissions, excise.remission_years, excise.filer_periods, excise.filers, reference.rates, reference.areas, reference.settings
-- rule: X6, X7
-- source: each rate's own source

create table excise.duty (
    area text not null,
    site text not null,
    period text not null,
    rate_id text not null,      -- of reference.rates; of a remission the year it is for
    degree decimal(18,6),
    relief text,
    adjustment boolean not null,
    band text not null,         -- what tells it from the others of the return, in words
    from_date date not null,
    to_date date not null,
    quantity decimal(18,6) not null,
    unit text,
    rate decimal(18,6),
    amount decimal(18,6) not null,
    currency text not null,
    due_date date,
    source text not null,
    unverified boolean not null,
    checked date,               -- the day the rate was last compared with its source
    counts boolean not null     -- whether its quantity counts: beer under two taxes of an area counts once
);

insert into excise.duty by name
with filled as (
    select area, site, period, rate_id, degree, relief, adjustment, rate, quantity_to_date as quantity,
        amount_to_date as amount
    from excise.period_bands
    where last_of_period
),
-- A nil return: the first band of each tax in force at the end of the period, for the brewery's own beer.
nil as (
    select
        periods.area, periods.site, periods.period, rates.rate_id, null::decimal(18,6) as degree, null::text as relief,
        false as adjustment, rates.rate, 0::decimal(18,6) as quantity, 0::decimal(18,6) as amount
    from excise.filer_periods as periods
    join excise.filers as filers on filers.area = periods.area and filers.site = periods.site
    join reference.rates as rates
        on rates.area = periods.area
        and rates.band_no = 1
        and periods.to_date >= rates.from_date
        and periods.to_date <= coalesce(rates.to_date, periods.to_date)
        and (rates.producer is null or rates.producer = filers.producer)
        and one_of(rates.brewed_by, 'us')
    anti join filled on filled.area = periods.area and filled.site = periods.site and filled.period = periods.period
    qualify row_number() over (
        partition by periods.area, periods.site, periods.period, rates.tax order by rates.class
    ) = 1
),
named as (
    select
        rows.*, rates.from_date as rate_from, rates.falls_on as rate_falls_on,
        reliefs.from_date as relief_from, reliefs.falls_on as relief_falls_on,
        rates.source || coalesce('. relief: ' || reliefs.source, '') as source,
        rates.unverified or not rates.start_known or coalesce(reliefs.unverified, false) as unverified,
        case
            when rates.unverified or coalesce(reliefs.unverified, false) then ' (unverified)'
            when not rates.start_known then ' (start date not in the source: unverified)'
            else ''
        end as doubt,
        rates.unit, rates.checked,
        rates.tax = (select min(taxes.tax) from reference.rates as taxes where taxes.area = rows.area) as counts,
        case when (
            select count(distinct taxes.tax) from reference.rates as taxes where taxes.area = rows.area
        ) > 1 then rates.tax || ': ' else '' end
            || rates.band
            || case when rows.degree is not null then ', ' || rtrim(rtrim(rows.degree::text, '0'), '.') || ' °P' else '' end
            || case when rows.relief is not null then ', small producer' else '' end
            || case when rows.adjustment then ', returned beyond the day''s removals' else '' end as band
    from (select * from filled union all by name select * from nil) as rows
    join reference.rates as rates on rates.rate_id = rows.rate_id
    left join reference.reliefs as reliefs on reliefs.relief_id = rows.relief
),
-- Bands of one name in a return say what they differ in.
differing as (
    select * exclude (band), band
        || case when count(distinct rate_from) over alike > 1 then ', rate from ' || rate_from else '' end
        || case when rate_falls_on <> '' and count(distinct rate_falls_on) over alike > 1 then ', ' || rate_falls_on else '' end
        || case when count(distinct relief_from) over alike > 1 then ', relief from ' || relief_from else '' end
        || case when relief_falls_on <> '' and count(distinct relief_falls_on) over alike > 1
            then ', relief for ' || relief_falls_on else '' end as band
    from named
    window alike as (partition by area, site, period, band)
)
select
    named.area, named.site, named.period, named.rate_id, named.degree, named.relief, named.adjustment,
    named.band || case when count(*) over alike > 1
        then ', no. ' || row_number() over (alike order by named.rate_id, named.degree, named.relief) else '' end as band,
    periods.from_date, periods.to_date, periods.due_date,
    named.quantity, named.unit, named.rate, named.amount, areas.currency,
    named.source || named.doubt as source,
    named.unverified,
    named.checked,
    named.counts
from differing as named
join excise.filer_periods as periods
    on periods.area = named.area and periods.site = named.site and periods.period = named.period
join reference.areas as areas on areas.area = named.area
window alike as (partition by named.area, named.site, named.period, named.band)
union all by name
-- What is remitted stands under the whole duty, as a line of its own.
select
    remissions.area, remissions.site, remissions.period, 'remission ' || years.from_date as rate_id,
    null as degree, null as relief, false as adjustment,
    years.name || ', year from ' || years.from_date || ', all duty up to ' || years.cap::decimal(18,2) as band,
    periods.from_date, periods.to_date, periods.due_date,
    0 as quantity, null as unit, null as rate, -sum(remissions.remitted) as amount, areas.currency,
    years.source || case when years.unverified then ' (unverified)' else '' end as source,
    years.unverified,
    years.checked,
    false as counts
from excise.remissions as remissions
join excise.remission_years as years
    on years.area = remissions.area and years.site = remissions.site and years.from_date = remissions.year_from
join excise.filer_periods as periods
    on periods.area = remissions.area and periods.site = remissions.site and periods.period = remissions.period
join reference.areas as areas on areas.area = remissions.area
group by all;
