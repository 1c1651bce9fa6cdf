-- table: result.cost_flows
-- grain: one element of one amount that flows into a brew, lot, run, use of a material, pool, layer of stock, move,
--   shipment or period expense
-- key: none
-- units: money; the amount that came in, before any abnormal loss. `all`: an amount that is not told by element.
--   from_key: under which name what flows into the source stands, null for a record
-- reads: cost.charges, cost.pool_shares, cost.brew_costs, volume.brews, cost.draw_costs, volume.moves, volume.run_lines,
--   record.opening_lots, record.beer_in, record.brews, cost.goods_takings, cost.goods_layer_costs, cost.goods_walk,
--   cost.goods_layers, cost.goods_feeds, cost.goods_moves, cost.expense_parts, reference.settings, record.packaging,
--   record.moves, record.recipes, record.package_materials, volume.lot_months, cost.run_costs, cost.material_walk,
--   cost.material_moves, cost.material_layers, cost.material_takings, cost.material_layer_costs, cost.material_feeds,
--   record.receipts, record.invoices, record.expenses, record.byproducts
-- rule: C2, C3, C7 to C11
-- source: calculation rules; `brewcost explain` walks these from a figure back to the records. `layer` is one layer of goods,
--   `material` one of a material: by fifo one receipt, by average a month

create table result.cost_flows (
    to_kind text not null,
    to_name text not null,
    date date,
    from_kind text not null,
    from_name text not null,
    from_key text,
    element text not null,
    amount decimal(18,6) not null,
    file text,
    sheet text,
    row bigint
);

insert into result.cost_flows by name
with
-- What nobody wrote down and the recipe or the package's materials stand for is marked so.
by_recipe as (
    select file, sheet, row, ' by the recipe' as mark from record.recipes
    union all
    select file, sheet, row, ' by the package materials' as mark from record.package_materials
),
direct as (
    select
        case when brew is not null then 'brew' when lot is not null then 'lot' else 'run' end as to_kind, name as to_name,
        date, source as from_kind, coalesce(material || coalesce(by_recipe.mark, ''), 'labour ' || stage) as from_name,
        item || ' ' || seq as from_key, element, amount, charges.file, charges.sheet, charges.row
    from cost.charges
    left join by_recipe on by_recipe.file = charges.file and by_recipe.sheet is not distinct from charges.sheet
        and by_recipe.row = charges.row
    where charged
),
pools as (
    select
        case when pool_shares.brew is not null then 'brew' when pool_shares.lot is not null then 'lot' else 'run' end
            as to_kind,
        coalesce(pool_shares.brew, pool_shares.lot, pool_shares.run) as to_name, lot_months.from_day as date,
        pool_shares.kind as from_kind, pool_shares.pool || ' ' || pool_shares.month as from_name,
        concat_ws(chr(31), pool_shares.pool, pool_shares.month, pool_shares.site) as from_key, pool_shares.element,
        sum(pool_shares.amount) as amount
    from cost.pool_shares
    left join volume.lot_months on lot_months.site = pool_shares.site and lot_months.lot = pool_shares.lot
        and lot_months.month = pool_shares.month
    group by all
),
opening as (
    unpivot (
        select lot, file, sheet, row, cost_ingredients as ingredients, cost_labour as labour, cost_overhead as overhead
        from record.opening_lots
    ) on ingredients, labour, overhead into name element value amount
),
-- What each layer of goods came from: by fifo one event, by average all that came in that month.
layers as (
    select layers.item || ' ' || layers.layer as to_name, walk.kind, walk.document, walk.line, walk.date, walk.file,
        walk.sheet, walk.row,
        walk.cost_in + coalesce(at_price(walk.counted_in, walk.unit_cost), 0)
            as amount
    from cost.goods_layers as layers
    join cost.goods_walk as walk on walk.item = layers.item and walk.month = layers.month and walk.taken_in > 0
        and walk.kind <> 'repacked in'
        and ((select goods_method from reference.settings) = 'average' or walk.seq = layers.layer)
),
run_elements as (
    unpivot (select run, line, ingredients, packaging, labour, overhead from cost.run_costs)
    on ingredients, packaging, labour, overhead into name element value amount
),
-- A material: what a use took, and what each layer came from. An invoice stands beside its receipt, or in its place.
material_events as (
    select layers.item || ' ' || layers.layer as to_name, walk.kind, walk.material, walk.date, walk.file, walk.sheet,
        walk.row, receipts.document, receipts.estimated,
        walk.cost_in + coalesce(at_price(walk.counted_in, walk.unit_cost), 0)
            as amount,
        walk.kind = 'receipt' and row_number() over (
            partition by walk.kind, receipts.document, walk.material order by walk.file, walk.sheet nulls first, walk.row
        ) = 1 as is_first
    from cost.material_layers as layers
    join cost.material_walk as walk on walk.item = layers.item and walk.month = layers.month and walk.taken_in > 0
        and ((select materials_method from reference.settings) = 'average' or walk.seq = layers.layer)
    left join record.receipts on walk.kind = 'receipt' and receipts.file = walk.file
        and receipts.sheet is not distinct from walk.sheet and receipts.row = walk.row
),
invoices as (
    select events.to_name, invoices.date, 'invoice' as from_kind, invoices.document as from_name,
        invoices.cost + coalesce(invoices.freight, 0) as amount, invoices.file, invoices.sheet, invoices.row,
        events.file as receipt_file, events.sheet as receipt_sheet, events.row as receipt_row
    from record.invoices
    join material_events as events on events.is_first and events.document = invoices.receipt_document
        and events.material = invoices.material
),
materials as (
    select 'use' as to_kind, takings.item || ' ' || takings.seq as to_name, 'material' as from_kind,
        takings.item as from_name, takings.item || ' ' || takings.layer as from_key,
        cost_between(costs.cost, takings.from_qty, takings.to_qty, costs.layer_qty) as amount
    from cost.material_takings as takings
    join cost.material_layer_costs as costs using (item, layer)
    union all by name
    select 'use' as to_kind, item || ' ' || seq as to_name, 'not on hand' as from_kind, material as from_name,
        short_cost as amount, file, sheet, row
    from cost.material_moves
    union all by name
    select 'material' as to_kind, to_name, from_kind, from_name, amount, file, sheet, row from invoices
    union all by name
    select 'material' as to_kind, events.to_name, events.kind as from_kind,
        coalesce(events.document, events.material) as from_name,
        events.amount - coalesce(sum(invoices.amount), 0) as amount, events.file, events.sheet, events.row
    from material_events as events
    left join invoices on invoices.receipt_file = events.file and events.sheet is not distinct from invoices.receipt_sheet
        and invoices.receipt_row = events.row and invoices.to_name = events.to_name
    group by events.to_name, events.kind, events.document, events.material, events.amount, events.file, events.sheet,
        events.row
    union all by name
    select 'material' as to_kind, feeds.item || ' ' || feeds.layer as to_name, 'material' as from_kind,
        feeds.from_item as from_name, feeds.from_item || ' ' || feeds.from_layer as from_key,
        cost_between(costs.cost, feeds.from_qty, feeds.to_qty, costs.layer_qty) as amount
    from cost.material_feeds as feeds
    join cost.material_layer_costs as costs on costs.item = feeds.from_item and costs.layer = feeds.from_layer
),
-- What each pool, the labour of a stage and the by-products of a month are made of.
pooled as (
    select 'pool' as to_kind, concat_ws(chr(31), pool, month, site) as to_name, 'expense' as from_kind, pool as from_name,
        amount, file, sheet, row
    from record.expenses
    union all by name
    select 'pool' as to_kind, concat_ws(chr(31), pool, month, site) as to_name, 'use' as from_kind,
        material as from_name, item || ' ' || seq as from_key, amount, file, sheet, row
    from cost.charges
    where pool is not null
    union all by name
    select 'labour' as to_kind, concat_ws(chr(31), 'labour ' || stage, month, site) as to_name, 'labour' as from_kind,
        'labour ' || stage as from_name, amount, file, sheet, row
    from cost.charges
    where source = 'labour' and name is null and stage <> 'warehouse'
    union all by name
    select 'by-products' as to_kind, concat_ws(chr(31), 'by-products', month_of(date), site) as to_name,
        'by-product' as from_kind, kind as from_name, -income as amount, file, sheet, row
    from record.byproducts
),
flows as (
    select 'expense' as to_kind, kind || chr(31) || month as to_name, from_kind, from_name, from_key, 'all' as element,
        amount, file, sheet, row
    from cost.expense_parts
    union all by name
    select *, 'all' as element from materials
    union all by name
    select *, 'all' as element from pooled
    union all by name
    from direct
    union all by name
    from pools
    union all by name
    select 'lot' as to_kind, opening.lot as to_name, settings.first_day as date, 'opening' as from_kind,
        opening.lot as from_name, opening.element, opening.amount, opening.file, opening.sheet, opening.row
    from opening
    cross join reference.settings
    union all by name
    select 'lot' as to_kind, brews.lot as to_name, brews.date, 'brew' as from_kind, costs.brew as from_name, costs.element,
        costs.good_cost as amount, records.file, records.sheet, records.row
    from cost.brew_costs as costs
    join volume.brews using (brew)
    join record.brews as records using (brew)
    union all by name
    select 'lot' as to_kind, lot as to_name, date, 'received' as from_kind, coalesce(document, beer) as from_name,
        'ingredients' as element, cost as amount, file, sheet, row
    from record.beer_in
    where lot is not null
    union all by name
    select 'lot' as to_kind, moves.to_lot as to_name, moves.date, 'lot' as from_kind, moves.from_lot as from_name,
        costs.element, costs.good_cost as amount, records.file, records.sheet, records.row
    from cost.draw_costs as costs
    join volume.moves on costs.kind = 'move' and moves.move = costs.name
    join record.moves as records on records.move = moves.move
    where moves.to_lot is not null
    union all by name
    select 'run' as to_kind, costs.name as to_name, lines.date, 'lot' as from_kind, lines.lot as from_name, costs.element,
        costs.taken as amount, records.file, records.sheet, records.row
    from cost.draw_costs as costs
    join volume.run_lines as lines on costs.kind = 'run' and lines.run = costs.name and lines.line = costs.line
    join record.packaging as records on records.run = lines.run and records.line = lines.line
    union all by name
    select 'layer' as to_kind, layers.to_name, layers.date,
        case when layers.kind = 'packaged' then 'run' else layers.kind end as from_kind, layers.document as from_name,
        coalesce(run_elements.element, 'all') as element, coalesce(run_elements.amount, layers.amount) as amount,
        layers.file, layers.sheet, layers.row
    from layers
    left join run_elements on layers.kind = 'packaged' and run_elements.run = layers.document
        and run_elements.line = layers.line
    union all by name
    select 'layer' as to_kind, feeds.item || ' ' || feeds.layer as to_name, null as date, 'layer' as from_kind,
        feeds.from_item || ' ' || feeds.from_layer as from_name, 'all' as element,
        cost_between(costs.cost, feeds.from_qty, feeds.to_qty, costs.layer_qty) as amount
    from cost.goods_feeds as feeds
    join cost.goods_layer_costs as costs on costs.item = feeds.from_item and costs.layer = feeds.from_layer
    union all by name
    select 'shipment' as to_kind, walk.document as to_name, walk.date, 'layer' as from_kind,
        takings.item || ' ' || takings.layer as from_name, 'all' as element,
        cost_between(costs.cost, takings.from_qty, takings.to_qty, costs.layer_qty) as amount,
        walk.file, walk.sheet, walk.row
    from cost.goods_takings as takings
    join cost.goods_layer_costs as costs using (item, layer)
    join cost.goods_walk as walk using (item, seq)
    where walk.kind = 'shipped'
    union all by name
    select 'shipment' as to_kind, document as to_name, date, 'not on hand' as from_kind,
        beer || ' ' || package as from_name, 'all' as element, short_cost as amount, file, sheet, row
    from cost.goods_moves
    where kind = 'shipped'
    union all by name
    select 'move' as to_kind, costs.name as to_name, moves.date, 'lot' as from_kind, moves.from_lot as from_name,
        costs.element, costs.taken as amount, records.file, records.sheet, records.row
    from cost.draw_costs as costs
    join volume.moves on costs.kind = 'move' and moves.move = costs.name
    join record.moves as records on records.move = moves.move
    where moves.to_lot is null
)
select flows.* replace (
    case when from_kind in ('lot', 'brew', 'run', 'layer') then from_name else from_key end as from_key
)
from flows
where amount <> 0;
