-- table: report.worth_acting_on
-- grain: one of the three losses most worth acting on: first what is beyond chance over many jobs, then single losses
-- key: month, place
-- units: bbl, the books' currency; half_barrels are kegs of 15.5 gal
-- reads: report.loss_findings, report.losses_to_act_on
-- rule: V7
-- source: none; presentation

create table report.worth_acting_on (
    month text not null,
    place bigint not null,
    subject text not null,
    what text not null,
    loss_bbl decimal(18,6),
    low_bbl decimal(18,6),
    high_bbl decimal(18,6),
    half_barrels decimal(18,6),
    cost decimal(18,6),
    year_bbl decimal(18,6),
    year_cost decimal(18,6),
    look_at text,
    primary key (month, place)
);

insert into report.worth_acting_on by name
with
listed as (
    select month, 1 as sort, place as rank, concat_ws(' ', level, 'at', stage) as subject,
        what || ': ' || effect::decimal(18,2) || ' ' || unit || ', ' || jobs_count || ' jobs' as what,
        month_bbl as loss_bbl, month_low_bbl as low_bbl, month_high_bbl as high_bbl,
        month_half_barrels as half_barrels, month_cost as cost, year_bbl, year_cost, look_at
    from report.loss_findings
    union all by name
    select month, 2 as sort, place as rank, record as subject,
        'lost ' || loss_bbl::decimal(18,2) || ' bbl at ' || stage || ', ' || over_bbl::decimal(18,2)
            || ' of it over the allowance' || coalesce(': ' || beer, '') || coalesce(' in ' || vessel, '') as what,
        over_bbl as loss_bbl, over_bbl - 1.96 * reading_error_bbl as low_bbl,
        over_bbl + 1.96 * reading_error_bbl as high_bbl, over_half_barrels as half_barrels, over_cost as cost, look_at
    from report.losses_to_act_on
    where over_bbl > 0
)
select * exclude (sort, rank), row_number() over (partition by month order by sort, rank) as place
from listed
qualify row_number() over (partition by month order by sort, rank) <= 3;
