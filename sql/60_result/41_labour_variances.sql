-- table: result.labour_variances
-- grain: the labour of one stage at one site in a month
-- key: month, site, stage
-- units: hours; bbl; money, positive = more was spent than the standard. Null where a beer made has no standard hours and rate
-- reads: record.labour, cost.labour_standards
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
standard as (
    select month, site, stage, sum(bbl) as made_bbl,
        case when count(hours) = count(*) then sum(hours) end as standard_hours,
        case when count(cost) = count(*) then sum(cost) end as standard_cost
    from cost.labour_standards
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
