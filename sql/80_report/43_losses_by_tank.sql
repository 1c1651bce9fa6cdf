-- table: report.losses_by_tank
-- grain: one tank of one month, beside all the books' months up to it
-- key: month, site, vessel
-- units: bbl, the books' currency; loss_pct of the volume in; half_barrels are kegs of 15.5 gal
-- reads: report.months, report.losses
-- rule: V2, V7
-- source: none; presentation

create table report.losses_by_tank (
    month text not null,
    site text not null,
    vessel text not null,
    stage text,
    lots_count bigint not null,
    volume_in_bbl decimal(18,6),
    loss_bbl decimal(18,6),
    loss_pct decimal(18,6),
    reading_error_bbl decimal(18,6),
    verdict text not null,
    abnormal_bbl decimal(18,6),
    half_barrels decimal(18,6),
    loss_cost decimal(18,6),
    so_far_lots_count bigint not null,
    so_far_loss_bbl decimal(18,6),
    so_far_loss_pct decimal(18,6),
    so_far_reading_error_bbl decimal(18,6),
    so_far_verdict text not null,
    primary key (month, site, vessel)
);

insert into report.losses_by_tank by name
select
    months.month,
    losses.site,
    losses.vessel,
    any_value(losses.stage) as stage,
    count(*) filter (where losses.month = months.month) as lots_count,
    sum(losses.volume_in_bbl) filter (where losses.month = months.month) as volume_in_bbl,
    sum(losses.loss_bbl) filter (where losses.month = months.month) as loss_bbl,
    percent(
        sum(losses.loss_bbl) filter (where losses.month = months.month),
        sum(losses.volume_in_bbl) filter (where losses.month = months.month)
    ) as loss_pct,
    root_sum_square(case when losses.month = months.month then losses.reading_error_bbl end) as reading_error_bbl,
    verdict(
        sum(losses.loss_bbl) filter (where losses.month = months.month),
        root_sum_square(case when losses.month = months.month then losses.reading_error_bbl end)
    ) as verdict,
    sum(losses.abnormal_bbl) filter (where losses.month = months.month) as abnormal_bbl,
    sum(losses.half_barrels) filter (where losses.month = months.month) as half_barrels,
    sum(losses.loss_cost) filter (where losses.month = months.month) as loss_cost,
    count(*) as so_far_lots_count,
    sum(losses.loss_bbl) as so_far_loss_bbl,
    percent_sum(losses.loss_bbl, losses.volume_in_bbl) as so_far_loss_pct,
    root_sum_square(losses.reading_error_bbl) as so_far_reading_error_bbl,
    verdict(sum(losses.loss_bbl), root_sum_square(losses.reading_error_bbl)) as so_far_verdict
from report.months as months
join report.losses as losses on losses.month <= months.month
where losses.vessel is not null
group by months.month, losses.site, losses.vessel;
