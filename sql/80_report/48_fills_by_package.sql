-- table: report.fills_by_package
-- grain: what one package held in the weighed runs of one month
-- key: month, site, package
-- units: those of report.fills; average_fill over all that was filled; year_: at the rate of the month's days
-- reads: report.fills, report.months
-- rule: C15, V7
-- source: none; presentation

create table report.fills_by_package (
    month text not null,
    site text not null,
    package text not null,
    runs_count bigint not null,
    containers_count bigint not null,
    unit text not null,
    nominal_fill decimal(18,6) not null,
    average_fill decimal(18,6),
    over_pct decimal(18,6),
    low_pct decimal(18,6) not null,
    high_pct decimal(18,6) not null,
    overfill_bbl decimal(18,6) not null,
    half_barrels decimal(18,6) not null,
    overfill_cost decimal(18,6) not null,
    year_half_barrels decimal(18,6) not null,
    year_cost decimal(18,6) not null,
    spill_bbl decimal(18,6),
    reading_error_bbl decimal(18,6)
);

insert into report.fills_by_package by name
with summed as (
    select
        month, site, package, unit, nominal_fill, count(*) as runs_count,
        sum(containers_count) as containers_count,
        per(sum(average_fill * containers_count), sum(containers_count)) as average_fill,
        percent_sum(overfill_bbl, nominal_bbl) as over_pct,
        min(over_pct) as low_pct,
        max(over_pct) as high_pct,
        sum(overfill_bbl) as overfill_bbl,
        sum(half_barrels) as half_barrels,
        sum(overfill_cost) as overfill_cost,
        sum(spill_bbl) as spill_bbl,
        root_sum_square(reading_error_bbl) as reading_error_bbl
    from report.fills
    group by month, site, package, unit, nominal_fill
)
select
    summed.*,
    part6(half_barrels, 365, day(months.last_day)) as year_half_barrels,
    part6(overfill_cost, 365, day(months.last_day)) as year_cost
from summed
join report.months as months using (month);
