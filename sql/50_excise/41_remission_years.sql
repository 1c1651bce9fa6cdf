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
with years as (
    select distinct filers.area, filers.site, filers.remission_cap,
        make_date(year(months.first_day - to_months((areas.counter_month - 1)::int)), areas.counter_month, 1) as from_date
    from excise.filers as filers
    join reference.areas as areas on areas.area = filers.area
    cross join record.months as months
    where filers.remission
),
used as (
    select opening.area, sum(opening.tax_remitted) as remitted
    from record.opening_duty as opening
    group by opening.area
)
select
    years.area, years.site, years.from_date, (years.from_date + interval 1 year - interval 1 day)::date as to_date,
    remissions.name,
    least(remissions.cap, coalesce(years.remission_cap, remissions.cap)) as cap,
    greatest(
        least(remissions.cap, coalesce(years.remission_cap, remissions.cap))
            - case
                when settings.first_day between years.from_date and years.from_date + interval 1 year - interval 1 day
                    then coalesce(used.remitted, 0)
                else 0
            end,
        0
    ) as room,
    remissions.source, remissions.checked, remissions.unverified
from years
join reference.remissions as remissions
    on remissions.area = years.area
    and years.from_date between remissions.from_date and coalesce(remissions.to_date, years.from_date)
cross join reference.settings as settings
left join used on used.area = years.area;
