-- table: report.loss_comparisons
-- grain: one tank, beer or package in one stage, or the stage itself, over the twelve months up to and with one month
-- key: month, site, stage, factor, level
-- units: effects in `unit` (bbl a job, or % of the volume) beyond the allowance and, but for a stage, beyond the others; year_: bbl a year at this rate
-- reads: given_loss_comparisons
-- rule: V7
-- source: brewcost/comparison.py: weighted least squares; Holm 1979; hierarchical normal model (Gelman et al. 2013, 5.4-5.5)

create table report.loss_comparisons (
    month text not null,
    site text not null,
    stage text not null,
    place bigint not null,
    factor text not null,
    level text not null,
    jobs_count bigint not null,
    volume_bbl decimal(18,6) not null,
    unit text not null,
    raw_effect decimal(18,6) not null,
    raw_error decimal(18,6) not null,
    p_value double not null,
    effect decimal(18,6) not null,
    effect_low decimal(18,6) not null,
    effect_high decimal(18,6) not null,
    year_bbl decimal(18,6) not null,
    year_low_bbl decimal(18,6) not null,
    year_high_bbl decimal(18,6) not null,
    year_cost decimal(18,6),
    year_low_cost decimal(18,6),
    year_high_cost decimal(18,6),
    cost_per_bbl decimal(18,6),
    found boolean not null,
    verdict text not null,
    primary key (month, site, stage, factor, level)
);

insert into report.loss_comparisons by name
select
    month, site, replace(stage, '_', ' ') as stage, stage_place(stage) as place, factor, level, jobs_count, volume_bbl,
    unit, raw_effect, raw_error, p_value, effect, effect_low, effect_high, year_bbl, year_low_bbl, year_high_bbl,
    year_bbl * cost_per_bbl as year_cost, year_low_bbl * cost_per_bbl as year_low_cost,
    year_high_bbl * cost_per_bbl as year_high_cost, cost_per_bbl, found,
    case
        when not found then 'no more than chance'
        when factor = 'stage' then if(raw_effect > 0, 'loses MORE than allowed', 'loses less than allowed')
        when raw_effect > 0 then 'loses MORE'
        else 'loses less'
    end as verdict
from given_loss_comparisons;
