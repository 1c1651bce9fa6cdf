-- table: result.cost_flows
-- grain: one element of one amount that flows into a brew, a lot, a run, a stock of goods or a shipment
-- key: none
-- units: money; the amount that came in, before any abnormal loss. `all`: an amount that is not told by element
-- reads: cost.charges, cost.pool_shares, cost.brew_costs, volume.brews, cost.draw_costs, volume.moves, volume.run_lines,
--   record.opening_lots, record.beer_in, record.brews, cost.goods_takings, cost.goods_layer_costs, cost.goods_walk,
--   cost.goods_layers, cost.goods_feeds, record.shipments, record.opening_goods, record.returns, reference.settings,
--   record.packaging, record.moves, record.recipes, record.package_materials, volume.lot_months, cost.run_costs
-- rule: C2, C3, C7 to C11
-- source: calculation rules; `brewcost explain` walks these from a figure back to the records. `layer` is one layer of goods

create table result.cost_flows (
    to_kind text not null,
    to_name text not null,
    date date,
    from_kind text not null,
    from_name text not null,
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
        element, amount, charges.file, charges.sheet, charges.row
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
        pool_shares.kind as from_kind, pool_shares.pool || ' ' || pool_shares.month as from_name, pool_shares.element,
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
    select layers.item || ' ' || layers.layer as to_name, walk.kind, walk.document, walk.line,
        walk.date, walk.cost_in as amount
    from cost.goods_layers as layers
    join cost.goods_walk as walk on walk.item = layers.item and walk.taken_in > 0 and walk.kind <> 'repacked in'
        and ((select goods_method from reference.settings) = 'fifo' and walk.seq = layers.layer
            or (select goods_method from reference.settings) = 'average' and walk.month = layers.month)
),
run_elements as (
    unpivot (select run, line, ingredients, packaging, labour, overhead from cost.run_costs)
    on ingredients, packaging, labour, overhead into name element value amount
),
flows as (
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
        coalesce(opening.file, returns.file, beer_in.file, records.file) as file,
        coalesce(opening.sheet, returns.sheet, beer_in.sheet, records.sheet) as sheet,
        coalesce(opening.row, returns.row, beer_in.row, records.row) as row
    from layers
    left join run_elements on layers.kind = 'packaged' and run_elements.run = layers.document
        and run_elements.line = layers.line
    left join record.packaging as records on layers.kind = 'packaged' and records.run = layers.document
        and records.line = layers.line
    left join record.opening_goods as opening on layers.kind = 'opening' and opening.row = layers.line
        and layers.to_name like opening.site || chr(31) || opening.beer || chr(31) || opening.package || ' %'
    left join record.returns on layers.kind = 'restocked' and returns.document = layers.document
        and returns.line = layers.line
    left join record.beer_in on layers.kind = 'received' and beer_in.row = layers.line and beer_in.date = layers.date
        and beer_in.package is not null
    union all by name
    select 'layer' as to_kind, feeds.item || ' ' || feeds.layer as to_name, null as date, 'layer' as from_kind,
        feeds.from_item || ' ' || feeds.from_layer as from_name, 'all' as element,
        cost_between(costs.cost, feeds.from_qty, feeds.to_qty, costs.layer_qty) as amount
    from cost.goods_feeds as feeds
    join cost.goods_layer_costs as costs on costs.item = feeds.from_item and costs.layer = feeds.from_layer
    union all by name
    select 'shipment' as to_kind, shipments.document as to_name, shipments.date, 'layer' as from_kind,
        takings.item || ' ' || takings.layer as from_name, 'all' as element,
        cost_between(costs.cost, takings.from_qty, takings.to_qty, costs.layer_qty) as amount,
        shipments.file, shipments.sheet, shipments.row
    from cost.goods_takings as takings
    join cost.goods_layer_costs as costs using (item, layer)
    join cost.goods_walk as walk using (item, seq)
    join record.shipments on walk.kind = 'shipped' and shipments.document = walk.document and shipments.line = walk.line
)
select * from flows where amount <> 0;
