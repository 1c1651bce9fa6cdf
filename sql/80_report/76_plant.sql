-- table: report.plant
-- grain: one measure of what a site made in a month against what it could make
-- key: month, site, measure
-- units: as the measure says
-- reads: volume.brews, volume.run_lines, cost.pool_months
-- rule: C3
-- source: could make: the largest normal driver that a fixed pool of the month states for the measure; blank where none does

create table report.plant (
    month text not null,
    site text not null,
    place bigint not null,
    measure text not null,
    made decimal(18,6) not null,
    could_make decimal(18,6),
    used_pct decimal(18,6)
);

insert into report.plant by name
with
made as (
    select month, site, 1 as place, 'brews' as measure, count(*) as made, 'brews' as driver, null as form
    from volume.brews group by month, site
    union all by name
    select month, site, 2 as place, 'barrels into fermenters' as measure, sum(volume_out_bbl) as made,
        'bbl_brewed' as driver, null as form
    from volume.brews group by month, site
    union all by name
    select month, site, 3 as place, 'barrels packaged' as measure, sum(good_bbl) as made, 'bbl_packaged' as driver,
        null as form
    from volume.run_lines group by month, site
    union all by name
    select month, site, case form when 'keg' then 4 else 5 end as place,
        case form when 'keg' then 'kegs filled' else 'cases filled' end as measure, sum(filled) as made,
        'packages_filled' as driver, form
    from volume.run_lines group by month, site, form
),
normals as (
    select month, site, driver, case when applies_to = 'form' then lower(applies_value) end as form, max(normal) as normal
    from cost.pool_months
    where normal is not null
    group by all
)
select made.month, made.site, made.place, made.measure, made.made, normals.normal as could_make,
    percent(made.made, normals.normal) as used_pct
from made
left join normals on normals.month = made.month and normals.site = made.site and normals.driver = made.driver
    and normals.form is not distinct from made.form;
