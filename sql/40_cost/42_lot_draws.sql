-- table: cost.lot_draws
-- grain: one draw from a lot, as a part of what the lot gives on that day
-- key: kind, name, line
-- units: bbl. other_volumes: the day's other draws, where this is the largest and takes the rounding remainder
-- reads: volume.draws, cost.lot_nodes, volume.stage_losses, volume.moves
-- rule: C8, C9
-- source: the rounding remainder goes to the largest part (ties: first by key)

create table cost.lot_draws (
    kind text not null,
    name text not null,
    line bigint not null,
    node bigint not null,
    to_node bigint,
    reason text not null,
    volume_bbl decimal(18,6) not null,
    day_bbl decimal(18,6) not null,
    other_volumes decimal(18,6)[],
    good_bbl decimal(18,6),
    expected_bbl decimal(18,6)
);

insert into cost.lot_draws by name
with
sized as (
    select
        draws.*,
        lot_nodes.node,
        lot_nodes.drawn_bbl as day_bbl,
        row_number() over (
            partition by lot_nodes.node order by draws.volume_bbl desc, draws.kind, draws.name, draws.line
        ) as size_order
    from volume.draws
    join cost.lot_nodes using (site, lot, date)
),
others as (
    select node, list(volume_bbl) as other_volumes
    from sized
    where size_order > 1
    group by node
)
select
    sized.kind,
    sized.name,
    sized.line,
    sized.node,
    to_nodes.node as to_node,
    sized.reason,
    sized.volume_bbl,
    sized.day_bbl,
    case when sized.size_order = 1 then coalesce(others.other_volumes, []) end as other_volumes,
    -- A transfer that loses abnormally hands on volume in * cost / (volume out - allowed); any other hands on all (C9).
    case when losses.abnormal_bbl > 0 then losses.volume_out_bbl end as good_bbl,
    case when losses.abnormal_bbl > 0 then losses.volume_in_bbl - losses.allowed_bbl end as expected_bbl
from sized
left join others using (node)
left join volume.moves on sized.kind = 'move' and moves.move = sized.name
left join cost.lot_nodes as to_nodes on to_nodes.site = moves.site and to_nodes.lot = moves.to_lot
    and to_nodes.date = moves.date
left join volume.stage_losses as losses on losses.stage = 'transfer' and losses.move = moves.move;
