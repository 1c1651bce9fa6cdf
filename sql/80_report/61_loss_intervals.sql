-- table: report.loss_intervals
-- grain: one tank, beer or package in one panel of the charts: those of a site and stage that are compared with one another; the
--   stages of a site are a panel of their own
-- key: month, panel, level
-- units: within, beyond, low and high as the panel says (bbl a job, or % of the volume), against the others (stages: their allowance); up and down: how far the
--   95 % interval reaches from the estimate
-- reads: report.loss_comparisons
-- rule: V7
-- source: none; presentation

create table report.loss_intervals (
    month text not null,
    place bigint not null,
    site text not null,
    panel text not null,
    level text not null,
    effect decimal(18,6) not null,
    beyond decimal(18,6),
    within decimal(18,6),
    low decimal(18,6) not null,
    high decimal(18,6) not null,
    up decimal(18,6) not null,
    down decimal(18,6) not null,
    year_bbl decimal(18,6) not null,
    year_low_bbl decimal(18,6) not null,
    year_high_bbl decimal(18,6) not null,
    year_cost decimal(18,6),
    year_low_cost decimal(18,6),
    year_high_cost decimal(18,6)
);

insert into report.loss_intervals by name
with
sided as (
    select *, if(count(distinct site) over (partition by month) > 1, ', ' || site, '') as at_site
    from report.loss_comparisons
)
select
    month, if(factor = 'stage', 0, place) as place, site,
    if(factor = 'stage', 'Each stage beyond what is allowed', upper(stage[1]) || stage[2:] || ': '
        || case factor when 'from tank' then 'out of which tank' when 'into tank' then 'into which tank' else 'which ' || factor end)
        || at_site || ' (' || unit || ')' as panel,
    level, effect, if(found, effect, null) as beyond, if(found, null, effect) as within,
    effect_low as low, effect_high as high, effect_high - effect as up, effect - effect_low as down,
    year_bbl, year_low_bbl, year_high_bbl, year_cost, year_low_cost, year_high_cost
from sided;
