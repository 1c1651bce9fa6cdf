-- table: cost.labour_standards
-- grain: the barrels of one beer made at one stage of a site in a month, and the labour they should have taken
-- key: month, site, stage, beer
-- units: bbl; hours; money. Null where the beer has no standard hours and rate
-- reads: record.standards, volume.brews, volume.run_lines
-- rule: C13
-- source: standard hours a barrel and their rate: the beer's own before those of every beer, the latest of either

create table cost.labour_standards (
    month text not null,
    site text not null,
    stage text not null,
    beer text,
    bbl decimal(18,6) not null,
    hours decimal(18,6),
    cost decimal(18,6),
    file text,
    sheet text,
    row bigint
);

insert into cost.labour_standards by name
with
made as (
    select month, site, unnest(['brewhouse', 'cellar']) as stage, unnest(['kettle', 'fermenter']) as standard_stage, beer,
        volume_out_bbl as bbl
    from volume.brews
    union all by name
    select month, site, 'packaging' as stage, 'packaging' as standard_stage, beer, good_bbl as bbl
    from volume.run_lines
),
barrels_made as (
    select month, site, stage, standard_stage, beer, sum(bbl) as bbl
    from made
    group by all
),
held_to as (
    select barrels_made.*, standards.hours_per_bbl, standards.hourly_rate, standards.file, standards.sheet, standards.row
    from barrels_made
    left join record.standards on standards.stage = barrels_made.standard_stage
        and (standards.beer = barrels_made.beer or standards.beer = '*')
        and coalesce(standards.from_month, '') <= barrels_made.month
        and standards.hours_per_bbl is not null and standards.hourly_rate is not null
    qualify row_number() over (
        partition by barrels_made.month, barrels_made.site, barrels_made.stage, barrels_made.beer
        order by standards.beer = '*', standards.from_month desc nulls last
    ) = 1
)
select month, site, stage, beer, bbl,
    rounded6(bbl::double * hours_per_bbl::double) as hours,
    rounded6(bbl::double * hours_per_bbl::double * hourly_rate::double) as cost,
    file, sheet, row
from held_to;
