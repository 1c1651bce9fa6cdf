-- table: cost.period_expenses
-- grain: one expense of the month that is in no stock
-- key: month, site, kind, detail
-- units: money
-- reads: cost.brew_costs, cost.lot_costs, cost.draw_costs, cost.run_line_costs, cost.pool_months, cost.charges,
--   cost.material_moves, cost.goods_moves, cost.shipment_costs, volume.*
-- rule: C1 to C4, C6 to C8, C10, C11, C14
-- source: IAS 2 paragraphs 13 and 16; ASC 330-10-35

create table cost.period_expenses (
    month text not null,
    site text not null,
    kind text not null,
    detail text not null,
    amount decimal(18,6) not null
);

insert into cost.period_expenses by name
with
expenses as (
    select brews.month, brews.site, 'abnormal loss' as kind, 'kettle' as detail, brew_costs.abnormal_cost as amount
    from cost.brew_costs
    join volume.brews using (brew)
    union all by name
    select lot_nodes.month, lot_nodes.site, 'abnormal loss' as kind, lots.stage as detail,
        lot_costs.abnormal as amount
    from cost.lot_costs
    join cost.lot_nodes using (node)
    join volume.lots using (site, lot)
    union all by name
    select moves.month, moves.site, 'abnormal loss' as kind, 'transfer' as detail,
        draw_costs.abnormal_cost as amount
    from cost.draw_costs
    join volume.moves on draw_costs.kind = 'move' and moves.move = draw_costs.name
    union all by name
    select run_lines.month, run_lines.site, 'abnormal loss' as kind, 'packaging' as detail,
        run_line_costs.abnormal_cost as amount
    from cost.run_line_costs
    join volume.run_lines using (run, line)
    union all by name
    select moves.month, moves.site, moves.reason as kind, moves.from_lot as detail, draw_costs.taken as amount
    from cost.draw_costs
    join volume.moves on draw_costs.kind = 'move' and moves.move = draw_costs.name
    where moves.reason in ('sample', 'destroyed')
    union all by name
    select month, site, 'idle capacity' as kind, pool as detail, idle as amount
    from cost.pool_months
    union all by name
    select month, site, outcome as kind, pool as detail, amount
    from cost.pool_months
    where outcome <> 'shared'
    union all by name
    select month, site, 'warehouse labour' as kind, '' as detail, amount
    from cost.charges
    where stage = 'warehouse'
    union all by name
    select month, site, 'unshared' as kind, name as detail, amount
    from cost.charges
    where name is not null and not charged and stage is distinct from 'warehouse'
    union all by name
    select month, site, 'material sold' as kind, material as detail, amount - income as amount
    from cost.charges
    where account is not null
    union all by name
    select month, site, 'material shrinkage' as kind, material as detail, -counted_cost as amount
    from cost.material_moves
    where kind = 'count'
    union all by name
    select month, site, 'stock shortage' as kind, beer as detail, -cost as amount
    from cost.goods_moves
    where kind = 'count'
    union all by name
    select month, site, purpose as kind, beer as detail, cost as amount
    from cost.shipment_costs
    where not of_goods_sold
)
select month, site, kind, detail, sum(amount) as amount
from expenses
group by month, site, kind, detail
having sum(amount) <> 0;
