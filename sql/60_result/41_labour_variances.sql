-- table: result.labour_variances
-- grain: the labour of one stage at one site in a month
-- key: month, site, stage
-- units: hours; bbl; money, positive = more was spent than the standard. Null where a beer made has no standard hours and rate
-- reads: record.labour, record.standards, volume.brews, volume.run_lines
-- rule: C13
-- source: rate = actual cost - actual hours * standard rate; efficiency = (actual hours - standard hours for the barrels made) *
--   standard rate (Saylor Academy 2012, Managerial Accounting, 10.4)

create table result.labour_variances (
    month text not null,
    site text not null,
    stage text not null,
    made_bbl decimal(18,6) not null,
    actual_hours decimal(18,6) not null,
    standard_hours decimal(18,6),
    actual_cost decimal(18,6) not null,
    standard_cost decimal(18,6),
    rate_variance decimal(18,6),
    efficiency_variance decimal(18,6)
);

insert into result.labour_variances by name
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
    select barrels_made.*, standards.hours_per_bbl, standards.hourly_rate
    from barrels_made
    left join record.standards on standards.stage = barrels_made.standard_stage
        and (standards.beer = barrels_made.beer or standards.beer = '*')
        and coalesce(standards.from_month, '') <= barrels_made.month
        and standards.hours_per_bbl is not null and standards.hourly_rate is not null
    qualify row_number() over (
        partition by barrels_made.month, barrels_made.site, barrels_made.stage, barrels_made.beer
        order by standards.beer = '*', standards.from_month desc nulls last
    ) = 1
),
standard as (
    select month, site, stage, sum(bbl) as made_bbl,
        case when count(hours_per_bbl) = count(*)
            then sum((bbl::double * hours_per_bbl::double)::decimal(28,10)::decimal(18,6)) end as standard_hours,
        case when count(hours_per_bbl) = count(*)
            then sum((bbl::double * hours_per_bbl::double * hourly_rate::double)::decimal(28,10)::decimal(18,6)) end
            as standard_cost
    from held_to
    group by month, site, stage
),
actual as (
    select month_of(date) as month, site, stage, sum(hours) as hours, sum(coalesce(cost, 0)) as cost
    from record.labour
    where stage <> 'warehouse'
    group by all
),
valued as (
    select actual.*, coalesce(standard.made_bbl, 0) as made_bbl, standard.standard_hours, standard.standard_cost,
        case when standard.standard_hours > 0 then part6(standard.standard_cost, actual.hours, standard.standard_hours) end
            as hours_at_standard
    from actual
    left join standard using (month, site, stage)
)
select month, site, stage, made_bbl, hours as actual_hours, standard_hours, cost as actual_cost, standard_cost,
    cost - hours_at_standard as rate_variance, hours_at_standard - standard_cost as efficiency_variance
from valued;
