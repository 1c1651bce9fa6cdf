-- table: report.losses_by_stage
-- grain: one stage of one month; a row not measured counts in neither volume
-- key: month, stage
-- units: bbl, the books' currency; loss_pct of the measured volume in; knockout_pct of what went into the
--   fermenters that month; half_barrels are kegs of 15.5 gal
-- reads: report.losses, report.warehouse_losses
-- rule: V1, V2, V3, V4, V5, V7
-- source: none; presentation

create table report.losses_by_stage (
    month text not null,
    place bigint not null,
    stage text not null,
    records_count bigint not null,
    not_measured_count bigint not null,
    volume_in_bbl decimal(18,6),
    loss_bbl decimal(18,6),
    loss_pct decimal(18,6),
    knockout_pct decimal(18,6),
    reading_error_bbl decimal(18,6),
    verdict text not null,
    allowed_bbl decimal(18,6),
    abnormal_bbl decimal(18,6),
    half_barrels decimal(18,6),
    loss_cost decimal(18,6),
    abnormal_cost decimal(18,6),
    primary key (month, stage)
);

insert into report.losses_by_stage by name
with
knockout as (
    select month, sum(volume_out_bbl) as knockout_bbl
    from report.losses
    where stage = 'kettle'
    group by month
),
stages as (
    select
        month,
        any_value(place) as place,
        stage,
        count(*) as records_count,
        count(*) filter (where verdict = 'not measured') as not_measured_count,
        sum(volume_in_bbl) filter (where loss_bbl is not null) as volume_in_bbl,
        sum(loss_bbl) as loss_bbl,
        percent(sum(loss_bbl), sum(volume_in_bbl) filter (where loss_bbl is not null)) as loss_pct,
        root_sum_square(reading_error_bbl) as reading_error_bbl,
        verdict(sum(loss_bbl), root_sum_square(reading_error_bbl)) as verdict,
        sum(allowed_bbl) as allowed_bbl,
        sum(abnormal_bbl) as abnormal_bbl,
        sum(half_barrels) as half_barrels,
        sum(loss_cost) as loss_cost,
        sum(abnormal_cost) as abnormal_cost
    from report.losses
    group by month, stage
    union all by name
    -- Packages are counted, so what the warehouse lacks has no reading error.
    select
        month,
        stage_place('warehouse') as place,
        'warehouse' as stage,
        1 as records_count,
        0 as not_measured_count,
        volume_in_bbl,
        loss_bbl,
        percent(loss_bbl, volume_in_bbl) as loss_pct,
        0 as reading_error_bbl,
        verdict(loss_bbl, 0) as verdict,
        null as allowed_bbl,
        null as abnormal_bbl,
        2 * loss_bbl as half_barrels,
        loss_cost,
        null as abnormal_cost
    from report.warehouse_losses
    where loss_bbl <> 0 or loss_cost <> 0
)
select stages.*, percent(stages.loss_bbl, knockout.knockout_bbl) as knockout_pct
from stages
left join knockout using (month);
