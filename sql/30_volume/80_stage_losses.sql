-- table: volume.stage_losses
-- grain: one stage of one brew, move between lots, emptied lot or run line
-- key: stage, brew, lot, move, run, line (those that the stage has)
-- units: bbl; of a lot: lb of hops put into it, and the part of its allowance that is theirs; reading error is one standard deviation
-- reads: volume.brews, volume.moves, volume.lots, volume.lot_balances, volume.run_lines, volume.allowances
-- rule: V1, V2, V3, V4, V6, V7
-- source: reading error of a difference: root of the sum of squares of its readings' tolerances (JCGM 100:2008, 5.1.2)

create table volume.stage_losses (
    month text not null,
    site text not null,
    beer text,
    style text,
    stage text not null,
    brew text,
    lot text,
    move text,
    run text,
    line bigint,
    package text,
    measured boolean not null,
    volume_in_bbl decimal(18,6) not null,
    volume_out_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6),
    allowed_bbl decimal(18,6),
    hops_lb decimal(18,6),
    hop_allowed_bbl decimal(18,6),
    abnormal_bbl decimal(18,6),
    reading_error_bbl decimal(18,6),
    beyond_reading_error boolean not null
);

insert into volume.stage_losses by name
with
chains as (
    select
        brews.month, brews.site, brews.beer, brews.style, 'kettle' as stage, brews.brew,
        brews.measured, brews.volume_in_bbl, brews.volume_out_bbl, allowances.allowed_pct,
        sqrt(brews.kettle_tolerance_bbl::double ** 2
            + coalesce(vessels.reading_tolerance_bbl, lots.tolerance_bbl)::double ** 2) as reading_error
    from volume.brews
    join volume.lots on lots.site = brews.site and lots.lot = brews.lot
    left join record.vessels on vessels.site = brews.site and vessels.vessel = brews.vessel
    left join record.beers as known_beers on known_beers.beer = brews.beer
    join volume.allowances on allowances.beer is not distinct from known_beers.beer
        and allowances.stage = 'kettle' and allowances.month = brews.month
    union all by name
    select
        moves.month, moves.site, from_lots.beer, from_lots.style, 'transfer' as stage, moves.move,
        moves.measured, moves.volume_out_bbl as volume_in_bbl, moves.volume_in_bbl as volume_out_bbl,
        allowances.allowed_pct,
        sqrt(from_lots.tolerance_bbl::double ** 2 + to_lots.tolerance_bbl::double ** 2) as reading_error
    from volume.moves
    join volume.lots as from_lots on from_lots.site = moves.site and from_lots.lot = moves.from_lot
    join volume.lots as to_lots on to_lots.site = moves.site and to_lots.lot = moves.to_lot
    left join record.beers as known_beers on known_beers.beer = from_lots.beer
    join volume.allowances on allowances.beer is not distinct from known_beers.beer
        and allowances.stage = 'transfer' and allowances.month = moves.month
    union all by name
    select
        month_of(lots.emptied_on) as month, lots.site, lots.beer, lots.style, lots.stage, lots.lot,
        true as measured, lot_balances.in_bbl as volume_in_bbl, lot_balances.drawn_bbl as volume_out_bbl,
        lots.allowed_pct, lot_balances.hops_lb, lot_balances.hop_allowed_bbl,
        lot_balances.reading_error_bbl::double as reading_error
    from volume.lots
    join volume.lot_balances using (site, lot)
    where lots.emptied_on is not null
    union all by name
    select
        month, site, beer, style, 'packaging' as stage, run, line, package,
        -- Counted packages are a measurement too: what was drawn is then filled plus rejected.
        true as measured, drawn_bbl as volume_in_bbl, good_bbl as volume_out_bbl, allowed_pct,
        reading_error_bbl::double as reading_error
    from volume.run_lines
),
figures as (
    select
        * exclude (reading_error),
        volume_in_bbl - volume_out_bbl as loss,
        part6(volume_in_bbl, allowed_pct, 100) + coalesce(hop_allowed_bbl, 0) as allowed,
        rounded6(reading_error) as error
    from chains
)
select
    month, site, beer, style, stage, brew, lot, move, run, line, package, measured, volume_in_bbl, volume_out_bbl,
    case when measured then loss end as loss_bbl,
    case when measured then allowed end as allowed_bbl,
    hops_lb,
    hop_allowed_bbl,
    case
        when not measured then null
        when loss - allowed > error then loss - allowed
        else 0
    end as abnormal_bbl,
    case when measured then error end as reading_error_bbl,
    measured and loss - allowed > error as beyond_reading_error
from figures;
