-- table: result.loss_jobs
-- grain: one measured loss of one brew, lot, move or run line, with the tanks whose readings it hangs on
-- key: stage, record, package (record: the brew, lot, move, or run and line)
-- units: bbl, money; excess_bbl is the loss less what is allowed; emptied: the last of its tank's beer was taken
-- reads: result.stage_losses, volume.brews, volume.moves, volume.lots, volume.run_lines
-- rule: V1 to V7
-- source: what the comparison of tanks and beers (brewcost/statistics.py) is made from; counts of packages are no readings

create table result.loss_jobs (
    month text not null,
    date date not null,
    site text not null,
    stage text not null,
    record text not null,
    beer text,
    package text,
    form text,
    from_vessel text,
    to_vessel text,
    emptied boolean not null,
    volume_in_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    excess_bbl decimal(18,6) not null,
    reading_error_bbl decimal(18,6) not null,
    loss_cost decimal(18,6)
);

insert into result.loss_jobs by name
with
last_lines as (
    select run_lines.site, run_lines.run, run_lines.line, lots.vessel, run_lines.form, run_lines.date,
        lots.emptied_on is not distinct from run_lines.date and row_number() over (
            partition by run_lines.site, run_lines.lot order by run_lines.date desc, run_lines.run desc, run_lines.line desc
        ) = 1 as emptied
    from volume.run_lines
    join volume.lots using (site, lot)
)
select
    losses.month,
    coalesce(brews.date, lots.emptied_on, moves.date, last_lines.date) as date,
    losses.site,
    losses.stage,
    coalesce(losses.brew, losses.lot, losses.move, losses.run || ' line ' || losses.line) as record,
    losses.beer,
    losses.package,
    last_lines.form,
    coalesce(lots.vessel, from_lots.vessel, last_lines.vessel) as from_vessel,
    coalesce(brews.vessel, to_lots.vessel) as to_vessel,
    coalesce(last_lines.emptied, true) as emptied,
    losses.volume_in_bbl,
    losses.loss_bbl,
    losses.loss_bbl - losses.allowed_bbl as excess_bbl,
    losses.reading_error_bbl,
    losses.loss_cost
from result.stage_losses as losses
left join volume.brews on brews.brew = losses.brew
left join volume.lots on lots.site = losses.site and lots.lot = losses.lot
left join volume.moves on moves.move = losses.move
left join volume.lots as from_lots on from_lots.site = moves.site and from_lots.lot = moves.from_lot
left join volume.lots as to_lots on to_lots.site = moves.site and to_lots.lot = moves.to_lot
left join last_lines on last_lines.site = losses.site and last_lines.run = losses.run and last_lines.line = losses.line
where losses.loss_bbl is not null and losses.reading_error_bbl > 0 and losses.volume_in_bbl > 0;
