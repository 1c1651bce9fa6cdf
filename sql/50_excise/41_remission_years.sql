-- table: excise.remission_years
-- grain: one year of one filer who is given a remission of duty
-- key: area, site, from_date
-- units: money in the area's currency
-- reads: excise.filers, reference.areas, reference.remissions, reference.settings, record.months, record.opening_duty
-- rule: X6, X10
-- source: the area's file; brewery.toml says whether the brewery is given it, and the part of a cap that it has of a group's

create table excise.remission_years (
    area text not null,
    site text not null,
    from_date date not null,
    to_date date not null,
    name text not null,
    cap decimal(18,6) not null,         -- of this brewery, for the whole year
    room decimal(18,6) not null,        -- what was left of it when the books, or the year, began
    source text not null,
    checked date,
    unverified boolean not null
);

insert into excise.remission_years by name
with begun as (
    select distinct filers.area, filers.site, filers.remission_cap,
        counting_year(months.first_day, areas.counter_month) as from_date
    from excise.filers as filers
    join reference.areas as areas on areas.area = filers.area
    cross join record.months as months
    where filers.remission
),
years as (
    select begun.area, begun.site, begun.from_date,
        (begun.from_date + interval 1 year - interval 1 day)::date as to_date,
        least(remissions.cap, begun.remission_cap) as cap,      -- the lesser one, or the one there is
        remissions.name, remissions.source, remissions.checked, remissions.unverified
    from begun
    join reference.remissions as remissions
        on remissions.area = begun.area
        and begun.from_date between remissions.from_date and coalesce(remissions.to_date, begun.from_date)
),
-- What was remitted before the books is of the year they begin in.
used as (
    select opening.area, settings.first_day, sum(opening.tax_remitted) as remitted
    from record.opening_duty as opening
    cross join reference.settings as settings
    group by opening.area, settings.first_day
)
select years.*, greatest(years.cap - coalesce(used.remitted, 0), 0) as room
from years
left join used on used.area = years.area and used.first_day between years.from_date and years.to_date;
