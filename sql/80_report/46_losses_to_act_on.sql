-- table: report.losses_to_act_on
-- grain: one of the three losses of a month that cost most beyond the allowance and beyond their reading error;
--   where there are fewer than three, the largest real losses within the allowance follow
-- key: month, place
-- units: bbl, the books' currency; loss_pct of the volume in; half_barrels are kegs of 15.5 gal
-- reads: report.losses, report.stage_checks
-- rule: V7
-- source: none; presentation

create table report.losses_to_act_on (
    month text not null,
    place bigint not null,
    stage text not null,
    record text not null,
    beer text,
    vessel text,
    loss_bbl decimal(18,6),
    reading_error_bbl decimal(18,6),
    loss_pct decimal(18,6),
    over_bbl decimal(18,6),
    over_half_barrels decimal(18,6),
    over_cost decimal(18,6),
    loss_cost decimal(18,6),
    look_at text,
    primary key (month, place)
);

insert into report.losses_to_act_on by name
with ranked as (
    select
        *,
        row_number() over (
            partition by month
            order by coalesce(abnormal_cost, 0) desc, coalesce(abnormal_bbl, 0) desc, loss_cost desc nulls last,
                loss_bbl desc, place, record
        ) as worst
    from report.losses
    where verdict = 'real'
)
select
    ranked.month,
    ranked.worst as place,
    ranked.stage,
    ranked.record,
    ranked.beer,
    ranked.vessel,
    ranked.loss_bbl,
    ranked.reading_error_bbl,
    ranked.loss_pct,
    coalesce(ranked.abnormal_bbl, 0) as over_bbl,
    2 * coalesce(ranked.abnormal_bbl, 0) as over_half_barrels,
    coalesce(ranked.abnormal_cost, 0) as over_cost,
    ranked.loss_cost,
    checks.look_at
from ranked
left join report.stage_checks as checks on checks.stage = ranked.stage
where ranked.worst <= 3;
