-- table: report.variances_by_brew
-- grain: one brew in a month, its grist and all its materials
-- key: month, brew
-- units: money, positive = more than the standard; bbl
-- reads: result.variances, volume.brews
-- rule: C13
-- source: yield in barrels: what the grist used should have made by the recipe, less what was made (barrels missed). no_standard: what no
--   recipe names, at standard price; actual - standard = price + usage + no_standard

create table report.variances_by_brew (
    month text not null,
    brew text not null,
    beer text,
    made_bbl decimal(18,6),
    actual_cost decimal(18,6) not null,
    standard_cost decimal(18,6),
    price_variance decimal(18,6) not null,
    usage_variance decimal(18,6),
    no_standard decimal(18,6) not null,
    mix_variance decimal(18,6),
    yield_variance decimal(18,6),
    missed_bbl decimal(18,6)
);

insert into report.variances_by_brew by name
select
    variances.month, variances.brew, any_value(variances.beer) as beer,
    any_value(case when brews.month = variances.month then brews.volume_out_bbl end) as made_bbl,
    sum(variances.actual_cost) as actual_cost, sum(variances.standard_cost) as standard_cost,
    sum(variances.price_variance) as price_variance, sum(variances.usage_variance) as usage_variance,
    coalesce(sum(variances.actual_cost - variances.price_variance) filter (where variances.standard_cost is null), 0)
        as no_standard,
    sum(variances.mix_variance) as mix_variance, sum(variances.yield_variance) as yield_variance,
    -- The yield variance is (grist used / grist by the recipe - 1) of the grist's standard cost, so barrels follow it.
    per(
        any_value(brews.volume_out_bbl) * sum(variances.yield_variance),
        sum(variances.standard_cost) filter (where variances.yield_variance is not null)
    ) as missed_bbl
from result.variances
join volume.brews on brews.brew = variances.brew
group by variances.month, variances.brew;
