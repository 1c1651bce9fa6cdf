-- table: report.loss_trend
-- grain: one month: what it lost, stage by stage, and what the brewhouse and the tanks did
-- key: month
-- units: % of the stage, % of knockout, bbl, the books' currency; yield in % of the grist, efficiency in % of its extract, attenuation
--   in % of the original gravity, each the mean of the month's brews
-- reads: report.losses_by_stage, report.months, result.brewhouse, result.brew_strengths
-- rule: V1 to V9
-- source: none; presentation

create table report.loss_trend (
    month text primary key,
    kettle_pct decimal(18,6),
    fermenter_pct decimal(18,6),
    transfer_pct decimal(18,6),
    bright_tank_pct decimal(18,6),
    packaging_pct decimal(18,6),
    knockout_pct decimal(18,6),
    loss_bbl decimal(18,6),
    reading_error_bbl decimal(18,6),
    loss_cost decimal(18,6),
    brewhouse_yield_pct decimal(18,6),
    brewhouse_efficiency_pct decimal(18,6),
    apparent_attenuation_pct decimal(18,6)
);

insert into report.loss_trend by name
with
stages as (
    select month,
        max(loss_pct) filter (where stage = 'kettle') as kettle_pct,
        max(loss_pct) filter (where stage = 'fermenter') as fermenter_pct,
        max(loss_pct) filter (where stage = 'transfer') as transfer_pct,
        max(loss_pct) filter (where stage = 'bright tank') as bright_tank_pct,
        max(loss_pct) filter (where stage = 'packaging') as packaging_pct,
        sum(knockout_pct) as knockout_pct, sum(loss_bbl) as loss_bbl, root_sum_square(reading_error_bbl) as reading_error_bbl,
        sum(loss_cost) as loss_cost
    from report.losses_by_stage
    group by month
),
brewed as (
    select month, avg(brewhouse_yield_pct) as brewhouse_yield_pct, avg(brewhouse_efficiency_pct) as brewhouse_efficiency_pct
    from result.brewhouse
    group by month
),
fermented as (
    -- Where no alcohol is made the attenuation says nothing of the yeast.
    select month, avg(apparent_attenuation_pct) as apparent_attenuation_pct
    from result.brew_strengths
    where abv_pct > 0.5
    group by month
)
select *
from (select month from report.months)
left join stages using (month)
left join brewed using (month)
left join fermented using (month);
