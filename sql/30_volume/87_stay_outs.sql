-- table: volume.stay_outs
-- grain: one thing that takes beer out of a stay, in order: a draw, what is carried into the next stay, or what is left at its end
-- key: stay, seq
-- units: bbl; up_to_bbl: taken with this and all before it, which ends at whole_bbl, all that ever came in
-- reads: volume.lot_stays, volume.lots, volume.inflows, volume.draws, volume.moves, volume.run_lines
-- rule: V8, V8a
-- source: laid end to end the takings make up the whole, so a source is shared out along it and nothing is left over

create table volume.stay_outs (
    stay bigint not null,
    seq bigint not null,
    kind text not null,
    name text,
    line bigint,
    date date,
    volume_bbl decimal(18,6) not null,
    up_to_bbl decimal(18,6) not null,
    whole_bbl decimal(18,6) not null,
    good_bbl decimal(18,6) not null,
    to_stay bigint
);

insert into volume.stay_outs by name
with
inflows as (
    select stays.stay, sum(inflows.volume_bbl) as in_bbl
    from volume.inflows
    join volume.lot_stays as stays on stays.site = inflows.site and stays.lot = inflows.lot
        and inflows.date >= stays.from_day and (inflows.date < stays.next_day or stays.next_day is null)
    group by stays.stay
),
draws as (
    select stays.stay, draws.kind, draws.name, draws.line, draws.date, draws.volume_bbl,
        -- What goes on: into another lot, or into good packages.
        case draws.kind when 'run' then run_lines.good_bbl when 'move' then moves.volume_in_bbl end as good_bbl,
        moves.to_lot, stays.site
    from volume.draws
    join volume.lot_stays as stays on stays.site = draws.site and stays.lot = draws.lot
        and draws.date >= stays.from_day and (draws.date < stays.next_day or stays.next_day is null)
    left join volume.moves on draws.kind = 'move' and moves.move = draws.name
    left join volume.run_lines on draws.kind = 'run' and run_lines.run = draws.name and run_lines.line = draws.line
),
drawn as (
    select stay, sum(volume_bbl) as drawn_bbl
    from draws
    group by stay
),
balances as (
    select stays.*, lots.stage, lots.emptied_on, coalesce(drawn.drawn_bbl, 0) as drawn_bbl,
        coalesce(inflows.in_bbl, 0) as in_bbl,
        sum(coalesce(inflows.in_bbl, 0) - coalesce(drawn.drawn_bbl, 0)) over (
            partition by stays.site, stays.lot order by stays.from_day
        ) as left_bbl
    from volume.lot_stays as stays
    join volume.lots using (site, lot)
    left join inflows using (stay)
    left join drawn using (stay)
),
outs as (
    select draws.stay, 0 as last, draws.kind, draws.name, draws.line, draws.date, draws.volume_bbl, draws.good_bbl,
        to_stays.stay as to_stay
    from draws
    left join volume.lot_stays as to_stays on to_stays.site = draws.site and to_stays.lot = draws.to_lot
        and draws.date >= to_stays.from_day and (draws.date < to_stays.next_day or to_stays.next_day is null)
    union all by name
    select stay, 1 as last,
        case when next_stay is not null then 'carried' when emptied_on is not null then 'lost' else 'in cellar' end
            as kind,
        case when next_stay is null then emptied_on end as date,
        left_bbl as volume_bbl, left_bbl as good_bbl, next_stay as to_stay
    from balances
)
select
    outs.stay,
    row_number() over in_order as seq,
    outs.kind, outs.name, outs.line, outs.date, outs.volume_bbl,
    sum(outs.volume_bbl) over in_order as up_to_bbl,
    balances.drawn_bbl + balances.left_bbl as whole_bbl,
    outs.good_bbl, outs.to_stay
from outs
join balances using (stay)
window in_order as (
    partition by outs.stay order by outs.last, outs.date, outs.kind, outs.name, outs.line
    rows between unbounded preceding and current row
);
