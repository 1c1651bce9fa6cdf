-- table: cost.expense_parts
-- grain: one amount that became a period expense
-- key: none
-- units: money
-- reads: cost.brew_costs, volume.brews, cost.lot_costs, cost.lot_nodes, volume.lots, cost.draw_costs, volume.moves,
--   cost.run_line_costs, volume.run_lines, cost.pool_months, cost.charges, cost.material_moves, cost.goods_moves,
--   cost.shipment_costs, record.moves, record.brews, record.packaging
-- rule: C1 to C14
-- source: calculation rules. from_kind, from_key: what the amount is part of, as in result.cost_flows; or the record it is

create table cost.expense_parts (
    month text not null,
    site text not null,
    kind text not null,
    detail text,
    amount decimal(18,6) not null,
    from_kind text not null,
    from_name text not null,
    from_key text,
    file text,
    sheet text,
    row bigint
);

insert into cost.expense_parts by name
select brews.month, brews.site, 'abnormal loss' as kind, 'kettle' as detail, brew_costs.abnormal_cost as amount,
    'brew' as from_kind, brew as from_name, brew as from_key, records.file, records.sheet, records.row
from cost.brew_costs
join volume.brews using (brew)
join record.brews as records using (brew)
where brew_costs.abnormal_cost <> 0
union all by name
select lot_nodes.month, lot_nodes.site, 'abnormal loss' as kind, lots.stage as detail, lot_costs.abnormal as amount,
    'lot' as from_kind, lots.lot as from_name, lots.lot as from_key
from cost.lot_costs
join cost.lot_nodes using (node)
join volume.lots using (site, lot)
where lot_costs.abnormal <> 0
union all by name
select moves.month, moves.site,
    case when moves.reason in ('sample', 'destroyed') then moves.reason else 'abnormal loss' end as kind,
    case when moves.reason in ('sample', 'destroyed') then moves.from_lot else 'transfer' end as detail,
    case when moves.reason in ('sample', 'destroyed') then draw_costs.taken else draw_costs.abnormal_cost end as amount,
    'lot' as from_kind, moves.from_lot as from_name, moves.from_lot as from_key, records.file, records.sheet, records.row
from cost.draw_costs
join volume.moves on draw_costs.kind = 'move' and moves.move = draw_costs.name
join record.moves as records using (move)
union all by name
select run_lines.month, run_lines.site, 'abnormal loss' as kind, 'packaging' as detail,
    run_line_costs.abnormal_cost as amount, 'run' as from_kind, run as from_name, run as from_key,
    records.file, records.sheet, records.row
from cost.run_line_costs
join volume.run_lines using (run, line)
join record.packaging as records using (run, line)
where run_line_costs.abnormal_cost <> 0
union all by name
select month, site, case outcome when 'shared' then 'idle capacity' else outcome end as kind, pool as detail,
    case outcome when 'shared' then idle else amount end as amount, pool_months.kind as from_kind,
    pool || ' ' || month as from_name, concat_ws(chr(31), pool, month, site) as from_key
from cost.pool_months
union all by name
select month, site, case when stage = 'warehouse' then 'warehouse labour' else 'unshared' end as kind,
    case when stage = 'warehouse' then '' else name end as detail, amount, source as from_kind,
    coalesce(material, 'labour ' || stage) as from_name, item || ' ' || seq as from_key, file, sheet, row
from cost.charges
where stage = 'warehouse' or name is not null and not charged
union all by name
select month, site, 'material sold' as kind, material as detail, unnest([amount, -income]) as amount,
    unnest([source, 'income']) as from_kind, material as from_name, unnest([item || ' ' || seq, null]) as from_key,
    file, sheet, row
from cost.charges
where account is not null
union all by name
select month, site, 'material shrinkage' as kind, material as detail, -counted_cost as amount, 'count' as from_kind,
    material as from_name, file, sheet, row
from cost.material_moves
where kind = 'count'
union all by name
select moves.month, moves.site, 'stock shortage' as kind, moves.beer as detail, -moves.cost as amount,
    'count' as from_kind, moves.beer || ' ' || moves.package as from_name, moves.file, moves.sheet, moves.row
from cost.goods_moves as moves
where moves.kind = 'count'
union all by name
select costs.month, costs.site, costs.purpose as kind, costs.beer as detail, costs.cost as amount,
    'shipment' as from_kind, costs.document as from_name, costs.document as from_key, costs.file, costs.sheet, costs.row
from cost.shipment_costs as costs
where not costs.of_goods_sold and costs.kind = 'shipment';
