-- table: report.readings_to_take
-- grain: one reading that was never taken, or that most likely is wrong
-- key: month, site, record, what
-- units: bbl: without_bbl is how far the loss may be off as it stands (the usual loss and its spread at that stage), with_bbl if it had been
--   read too
-- reads: report.losses, result.usual_losses, report.reconciliation
-- rule: V7
-- source: two independent estimates together are off by 1 / sqrt(1/a2 + 1/b2) (weighted mean; JCGM 100:2008, 5.1.2)

create table report.readings_to_take (
    month text not null,
    site text not null,
    record text not null,
    beer text,
    vessel text,
    what text not null,
    without_bbl decimal(18,6),
    with_bbl decimal(18,6)
);

insert into report.readings_to_take by name
with
untaken as (
    select
        losses.month, losses.site, losses.record, losses.beer, losses.vessel,
        case losses.stage when 'kettle' then 'never taken: the kettle at the end of the boil'
            when 'packaging' then 'never taken: what was drawn from the tank; it counts as what is in the packages'
            else 'never taken: the tank that was filled' end as what,
        losses.volume_in_bbl::double / 100 * sqrt(usual.spread_pct::double ** 2 + usual.usual_pct::double ** 2) as without_bbl,
        typical.reading_error_bbl::double as read_bbl
    from report.losses as losses
    left join result.usual_losses as usual on usual.site = losses.site and usual.beer is null
        and usual.stage = replace(losses.stage, ' ', '_')
    left join (
        select site, stage, median(reading_error_bbl) as reading_error_bbl
        from report.losses
        where reading_error_bbl > 0
        group by site, stage
    ) as typical on typical.site = losses.site and typical.stage = losses.stage
    where losses.verdict = 'not measured' or losses.stage = 'packaging' and losses.reading_error_bbl = 0
)
select * exclude (read_bbl),
    case when without_bbl > 0 and read_bbl > 0 then 1 / sqrt(1 / without_bbl ** 2 + 1 / read_bbl ** 2) end as with_bbl
from untaken
union all by name
select month, site, 'lot ' || lot as record, beer, vessel,
    'take again, most likely wrong: ' || reading || ', ' || recorded_bbl::decimal(18,2) || ' bbl; the rest of the chain says '
        || reconciled_bbl::decimal(18,2) as what,
    abs(adjustment_bbl) as without_bbl, reconciled_error_bbl as with_bbl
from report.reconciliation
where verdict = 'MOST LIKELY WRONG' and own
union all by name
select month, site, record, beer, vessel, 'take again: more came out than went in, beyond twice the reading error' as what,
    abs(loss_bbl) as without_bbl, reading_error_bbl as with_bbl
from report.losses
where verdict = 'readings disagree';
