-- table: report.variances_by_beer
-- grain: one beer and kind of material in a month
-- key: month, beer, kind
-- units: money, positive = more than the standard
-- reads: result.variances
-- rule: C13
-- source: none; presentation. What no recipe names is no variance of usage: no_standard is its actual cost less its price
--   variance, so that actual - standard = price + usage + no_standard

create table report.variances_by_beer (
    month text not null,
    beer text not null,
    kind text not null,
    actual_cost decimal(18,6) not null,
    standard_cost decimal(18,6),
    price_variance decimal(18,6) not null,
    usage_variance decimal(18,6),
    no_standard decimal(18,6) not null,
    mix_variance decimal(18,6),
    yield_variance decimal(18,6)
);

insert into report.variances_by_beer by name
select month, coalesce(beer, 'several') as beer, kind, sum(actual_cost) as actual_cost,
    sum(standard_cost) as standard_cost, sum(price_variance) as price_variance, sum(usage_variance) as usage_variance,
    coalesce(sum(actual_cost - price_variance) filter (where standard_cost is null), 0) as no_standard,
    sum(mix_variance) as mix_variance, sum(yield_variance) as yield_variance
from result.variances
group by month, coalesce(beer, 'several'), kind;
