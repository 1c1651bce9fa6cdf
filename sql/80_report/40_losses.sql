-- table: report.losses
-- grain: one stage of one brew, lot, move or run line, with its verdict
-- key: none (month, site, stage and record together)
-- units: bbl, lb of hops put into the lot, the books' currency; loss_pct of the volume in; half_barrels are kegs of 15.5 gal
-- reads: result.stage_losses, result.lots, result.chain_entries, given_reconciliation
-- rule: V1, V2, V3, V4, V7
-- source: none; presentation

create table report.losses (
    month text not null,
    site text not null,
    stage text not null,
    place bigint not null,
    beer text,
    style text,
    record text not null,
    brew text,
    lot text,
    move text,
    run text,
    package text,
    line bigint,
    vessel text,
    volume_in_bbl decimal(18,6),
    volume_out_bbl decimal(18,6),
    loss_bbl decimal(18,6),
    loss_pct decimal(18,6),
    reading_error_bbl decimal(18,6),
    verdict text not null,
    allowed_bbl decimal(18,6),
    hops_lb decimal(18,6),
    hop_allowed_bbl decimal(18,6),
    abnormal_bbl decimal(18,6),
    half_barrels decimal(18,6),
    loss_cost decimal(18,6),
    abnormal_cost decimal(18,6)
);

insert into report.losses by name
with
-- What hangs on a reading that most likely is wrong.
doubtful as (
    select distinct entries.site, coalesce(entries.event, 'lot ' || entries.lot) as record
    from given_reconciliation as given
    join result.chain_entries as entries using (number)
    where given.blamed = 1
),
losses as (
    select *,
        case
            when brew is not null then 'brew ' || brew
            when lot is not null then 'lot ' || lot
            when move is not null then 'move ' || move
            else concat('run ', run, ' line ', line)
        end as record
    from result.stage_losses
)
select
    losses.month,
    losses.site,
    replace(losses.stage, '_', ' ') as stage,
    stage_place(losses.stage) as place,
    losses.beer,
    losses.style,
    losses.record || if(losses.run is null, '', ', ' || losses.package) as record,
    losses.brew,
    losses.lot,
    losses.move,
    losses.run,
    losses.package,
    losses.line,
    lots.vessel,
    losses.volume_in_bbl,
    losses.volume_out_bbl,
    losses.loss_bbl,
    percent(losses.loss_bbl, losses.volume_in_bbl) as loss_pct,
    losses.reading_error_bbl,
    case verdict(losses.loss_bbl, losses.reading_error_bbl)
        when 'real' then if(doubtful.record is null, 'real', 'a reading is doubtful')
        else verdict(losses.loss_bbl, losses.reading_error_bbl)
    end as verdict,
    losses.allowed_bbl,
    case when losses.hops_lb > 0 then losses.hops_lb end as hops_lb,
    case when losses.hops_lb > 0 then losses.hop_allowed_bbl end as hop_allowed_bbl,
    losses.abnormal_bbl,
    2 * losses.loss_bbl as half_barrels,
    losses.loss_cost,
    losses.abnormal_cost
from losses
left join result.lots as lots on lots.site = losses.site and lots.lot = losses.lot
left join doubtful on doubtful.site = losses.site and doubtful.record = losses.record;
