-- table: report.hop_losses
-- grain: what the lots of one beer with hops in the tank lost, emptied in the twelve months up to one month, at one stage
-- key: month, site, beer, stage
-- units: bbl, lb, gallons a pound and litres a kilogram of hops
-- reads: report.months, report.losses
-- rule: V6, V7
-- source: left to the hops is what the allowed % does not explain. A gallon is 3.785411784 L, a pound 0.45359237 kg (NIST
--   Handbook 44, appendix C), both exact

create table report.hop_losses (
    month text not null,
    site text not null,
    beer text not null,
    stage text not null,
    lots_count bigint not null,
    volume_in_bbl decimal(18,6) not null,
    hops_lb decimal(18,6) not null,
    hops_lb_per_bbl decimal(18,6),
    loss_bbl decimal(18,6) not null,
    by_pct_bbl decimal(18,6) not null,
    hop_loss_bbl decimal(18,6) not null,
    reading_error_bbl decimal(18,6) not null,
    hop_allowed_bbl decimal(18,6) not null,
    hop_loss_gal_per_lb decimal(18,6),
    reading_error_gal_per_lb decimal(18,6),
    allowed_gal_per_lb decimal(18,6),
    hop_loss_l_per_kg decimal(18,6),
    verdict text not null
);

insert into report.hop_losses by name
with summed as (
    select months.month, losses.site, losses.beer, losses.stage, count(*) as lots_count,
        sum(losses.volume_in_bbl) as volume_in_bbl, sum(losses.hops_lb) as hops_lb, sum(losses.loss_bbl) as loss_bbl,
        sum(losses.allowed_bbl - losses.hop_allowed_bbl) as by_pct_bbl,
        sum(losses.loss_bbl - losses.allowed_bbl + losses.hop_allowed_bbl) as hop_loss_bbl,
        root_sum_square(losses.reading_error_bbl) as reading_error_bbl,
        sum(losses.hop_allowed_bbl) as hop_allowed_bbl
    from report.months as months
    join report.losses as losses on losses.month <= months.month and losses.hops_lb > 0
        and date_diff('month', (losses.month || '-01')::date, months.first_day) < 12
    group by months.month, losses.site, losses.beer, losses.stage
)
select *,
    per(hops_lb, volume_in_bbl) as hops_lb_per_bbl,
    per(31 * hop_loss_bbl, hops_lb) as hop_loss_gal_per_lb,
    per(31 * reading_error_bbl, hops_lb) as reading_error_gal_per_lb,
    per(31 * hop_allowed_bbl, hops_lb) as allowed_gal_per_lb,
    31 * 3.785411784 / 0.45359237 * hop_loss_bbl::double / hops_lb::double as hop_loss_l_per_kg,
    case
        when abs(hop_loss_bbl - hop_allowed_bbl) <= 2 * reading_error_bbl then 'as allowed'
        when hop_loss_bbl > hop_allowed_bbl then 'MORE than allowed'
        else 'less than allowed'
    end as verdict
from summed;
