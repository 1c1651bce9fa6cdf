-- table: report.loss_findings
-- grain: one tank, beer or package that loses more than the others beyond chance, or whose dipstick reads wrong
-- key: month, site, factor, level
-- units: bbl, the books' currency; month_: what this month's jobs lost at that rate; half_barrels are kegs of 15.5 gal; a year at the rate of the months compared
-- reads: report.loss_comparisons, report.stage_checks, result.loss_jobs
-- rule: V7
-- source: a dipstick that reads high finds beer on the way into its tank and loses it on the way out; a leak only loses it

create table report.loss_findings (
    month text not null,
    place bigint not null,
    site text not null,
    factor text not null,
    level text not null,
    stage text not null,
    what text not null,
    jobs_count bigint not null,
    unit text not null,
    effect decimal(18,6) not null,
    effect_low decimal(18,6) not null,
    effect_high decimal(18,6) not null,
    month_bbl decimal(18,6) not null,
    month_low_bbl decimal(18,6) not null,
    month_high_bbl decimal(18,6) not null,
    month_half_barrels decimal(18,6) not null,
    month_cost decimal(18,6),
    year_bbl decimal(18,6) not null,
    year_half_barrels decimal(18,6) not null,
    year_cost decimal(18,6),
    year_low_cost decimal(18,6),
    year_high_cost decimal(18,6),
    look_at text,
    primary key (month, place)
);

insert into report.loss_findings by name
with
-- Each tank from both sides: what goes missing where it is emptied, what turns up where it is filled.
sides as (
    select
        comparisons.*,
        opposite.raw_effect / opposite.raw_error as opposite_t
    from report.loss_comparisons as comparisons
    left join report.loss_comparisons as opposite on opposite.month = comparisons.month
        and opposite.site = comparisons.site and opposite.level = comparisons.level
        and comparisons.factor in ('from tank', 'into tank') and opposite.factor in ('from tank', 'into tank')
        and opposite.factor <> comparisons.factor and opposite.stage in ('kettle', 'transfer')
        and comparisons.stage in ('transfer', 'packaging', 'kettle') and opposite.raw_error > 0
    where comparisons.found and comparisons.factor <> 'stage'
),
named as (
    select
        *,
        case
            when factor = 'from tank' and effect > 0 and opposite_t < -2 then 'reads high'
            when factor = 'from tank' and effect < 0 and opposite_t > 2 then 'reads low'
            when factor = 'into tank' and effect < 0 then 'reads high'
            -- Too few fillings to know from which side: it may be the dipstick, which costs no beer.
            when effect > 0 and factor = 'from tank' and stage in ('transfer', 'packaging') and opposite_t is null
                then 'loses more or reads high'
            when effect > 0 then 'loses more than the others'
        end as what
    from sides
),
-- Seen from two sides it is still one fault.
single as (
    select *
    from named
    where what is not null
    qualify row_number() over (
        partition by month, site, factor in ('beer', 'package'), level
        order by p_value, stage, factor, abs(opposite_t) desc nulls last
    ) = 1
),
this_month as (
    select single.month, single.site, single.factor, single.level,
        -- A tank's effect is in barrels a job, a beer's or package's in per cent of the volume.
        coalesce(sum(case when single.unit = 'bbl a job' then jobs.emptied::int
            else jobs.volume_in_bbl / 100 end), 0) as share
    from single
    left join result.loss_jobs as jobs on jobs.month = single.month and jobs.site = single.site
        and replace(jobs.stage, '_', ' ') = single.stage
        and single.level = case single.factor
            when 'from tank' then jobs.from_vessel
            when 'into tank' then jobs.to_vessel
            when 'beer' then jobs.beer
            else jobs.package
        end
    group by single.month, single.site, single.factor, single.level
)
select
    single.month,
    row_number() over (
        partition by single.month
        order by single.what <> 'loses more than the others', abs(single.year_cost) desc nulls last,
            abs(single.year_bbl) desc, single.level
    ) as place,
    single.site, single.factor, single.level, single.stage, single.what, single.jobs_count, single.unit, single.effect,
    single.effect_low, single.effect_high,
    single.effect * this_month.share as month_bbl,
    single.effect_low * this_month.share as month_low_bbl,
    single.effect_high * this_month.share as month_high_bbl,
    2 * single.effect * this_month.share as month_half_barrels,
    case when single.what = 'loses more than the others'
        then single.effect * this_month.share * single.cost_per_bbl end as month_cost,
    single.year_bbl, 2 * single.year_bbl as year_half_barrels,
    -- A dipstick loses no beer: the books only think so.
    case when single.what = 'loses more than the others' then single.year_cost end as year_cost,
    case when single.what = 'loses more than the others' then single.year_low_cost end as year_low_cost,
    case when single.what = 'loses more than the others' then single.year_high_cost end as year_high_cost,
    case
        when single.what = 'loses more or reads high'
            then 'the dipstick first: fill the tank from a known volume; if it is right, the valve, hose and seals'
        when single.what in ('reads high', 'reads low')
            then 'this dipstick or sight glass: fill the tank from a known volume'
        when single.factor = 'beer' and single.stage = 'fermenter'
            then 'beer held in the dry hops, the dump before racking'
        when single.factor = 'from tank' and single.stage = 'transfer'
            then 'outlet valve, hose and seals of this tank during a transfer'
        else checks.look_at
    end as look_at
from single
join this_month using (month, site, factor, level)
left join report.stage_checks as checks on checks.stage = single.stage;
