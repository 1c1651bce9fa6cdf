-- table: cost.problems
-- grain: one finding about cost
-- key: none
-- units: as the message says
-- reads: cost.*, record.*, reference.settings
-- rule: C1, C2, C3, C8, C11, M1
-- source: calculation rules

create table cost.problems (
    severity text not null,
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    expected text,
    message text not null,
    action text
);

insert into cost.problems by name
select
    'error' as severity, 'material-short' as code, moves.month, moves.file, moves.sheet, moves.row,
    'quantity' as field, shown(moves.used_qty) as value,
    'at most ' || shown(moves.used_qty - moves.short_qty) || ' ' || coalesce(materials.stock_unit, '') as expected,
    shown(moves.short_qty) || ' ' || coalesce(materials.stock_unit, '') || ' more ' || moves.material
        || ' is used than is on hand; it is priced at the last receipt, and control K1 fails' as message,
    'look for a receipt that is missing or dated too late' as action
from cost.material_moves as moves
left join record.material_units as materials using (material)
where moves.short_qty > 0;

insert into cost.problems by name
select
    'error' as severity, 'goods-short' as code, moves.month, moves.file, moves.sheet, moves.row,
    case moves.kind when 'shipped' then 'units' else 'from_units' end as field,
    shown(moves.short_units - moves.units) as value, 'at most ' || shown(-moves.units) || ' packages' as expected,
    moves.document || ' takes ' || shown(moves.short_units) || ' ' || moves.package || ' of ' || moves.beer
        || ' more than are on hand at ' || moves.site || ' on ' || moves.date
        || case moves.kind when 'shipped' then '; control K3 fails' else '' end as message,
    'look for a run that is missing or dated too late, or a wrong beer or package' as action
from cost.goods_moves as moves
where moves.short_units > 0;

insert into cost.problems by name
select
    'error' as severity, 'missing-price' as code, costs.month, coalesce(shipments.file, moves.file) as file,
    coalesce(shipments.sheet, moves.sheet) as sheet, coalesce(shipments.row, moves.row) as row,
    'unit_price' as field, null as value, 'a price on the line, or a prices record for it' as expected,
    costs.document || ' has no price for ' || costs.package || ' of ' || costs.beer || ' to '
        || coalesce(costs.account, 'no account') || ', so it has no revenue' as message,
    'write the price in (0 where nothing is charged), or add a prices record' as action
from cost.shipment_costs as costs
join cost.prices using (kind, document, line)
left join record.shipments on costs.kind = 'shipment' and shipments.document = costs.document
    and shipments.line = costs.line
left join record.moves on costs.kind = 'serving_tank' and moves.move = costs.document
where costs.of_goods_sold and prices.revenue is null;

insert into cost.problems by name
select
    'warning' as severity, 'unshared' as code, month, file, sheet, row,
    case when brew is not null then 'brew' when lot is not null then 'lot' else 'run' end as field,
    name as value,
    case when lot is not null then 'a lot that holds beer on that day' else 'one of the same month' end as expected,
    'this cost of ' || money(amount) || ' names ' || name || case
        when lot is not null then ', which holds no beer at ' || site || ' on ' || date
        else ', which is not of ' || month || ' at ' || site
    end || '; it is a period expense of the month' as message,
    'correct the day or the name' as action
from cost.charges
where name is not null and not charged and stage is distinct from 'warehouse';

insert into cost.problems by name
select
    'warning' as severity, 'pool-unshared' as code, month, 'pool' as field, pool as value,
    'something to share it over' as expected,
    pool || ' of ' || money(amount) || ' at ' || site || ' has nothing to be shared over in ' || month
        || '; it is a period expense of the month' as message,
    case when stage is null then 'add the pool to brewery.toml' else 'check the driver of the pool' end as action
from cost.pool_months
where outcome = 'unshared' and amount <> 0;

insert into cost.problems by name
select
    'warning' as severity, 'labour-unpriced' as code, charges.month, charges.file, charges.sheet, charges.row,
    'cost' as field, null as value, 'what the hours cost, or a pool with driver labour_hours' as expected,
    shown(charges.hours) || ' hours at ' || charges.stage || ' have no cost and no pool of the month prices them'
        as message,
    'write the cost in, or add the payroll to expenses' as action
from cost.charges
join record.labour on labour.file = charges.file and labour.sheet is not distinct from charges.sheet
    and labour.row = charges.row and labour.cost is null
anti join (select * from cost.pool_months where driver = 'labour_hours' and outcome = 'shared') as priced
    on priced.month = charges.month and priced.site = charges.site and priced.stage = charges.stage
where charges.source = 'labour';

-- What a count finds beside the book, either way.
insert into cost.problems by name
with
counts as (
    select moves.month, moves.file, moves.sheet, moves.row, moves.material as what,
        coalesce(' ' || materials.stock_unit, '') as unit, moves.balance_qty as counted, moves.counted_qty as over,
        moves.counted_cost as worth
    from cost.material_moves as moves
    left join record.material_units as materials using (material)
    where moves.counted_qty <> 0
    union all by name
    select month, file, sheet, row, beer || ' in ' || package as what, '' as unit, balance_units as counted, units as over,
        cost as worth
    from cost.goods_moves
    where kind = 'count' and units <> 0
),
sides as (
    select 'count-short' as code, -1 as side, 'short of' as beside, 'count again; what stays short is a period expense' as action
    union all by name
    select 'count-over' as code, 1 as side, 'over' as beside,
        'count again, and look for a use or shipment that is not written down; what stays over lessens the period expenses' as action
)
select
    'warning' as severity, sides.code, month, file, sheet, row, 'quantity' as field, shown(counted) as value,
    shown(counted - over) || unit || ' by the book' as expected,
    'the count of ' || what || ' is ' || shown(abs(over)) || unit || ' ' || sides.beside || ' the book, worth '
        || money(abs(worth)) as message,
    sides.action
from counts
join sides on sides.side = sign(counts.over);

-- An invoice of what has its cost already is a second charge: most likely it is the final cost, and the receipt an estimate.
insert into cost.problems by name
select
    'warning' as severity, 'invoice-of-known-cost' as code, month_of(invoices.date) as month, invoices.file, invoices.sheet,
    invoices.row, 'receipt_document' as field, invoices.receipt_document as value, 'an estimated receipt, or a credit' as expected,
    'the receipt of ' || invoices.material || ' has its cost of ' || money(receipts.own_cost) || ' and is no estimate, so invoice '
        || invoices.document || ' adds ' || money(invoices.cost + coalesce(invoices.freight, 0)) || ' to it' as message,
    'where the invoice is the final cost, write yes under estimated in ' || place_of(receipts.file, receipts.sheet, receipts.row)
        as action
from record.invoices
join cost.receipt_costs as receipts on receipts.document = invoices.receipt_document
    and receipts.material = invoices.material and receipts.invoiced_cost is not null
where not receipts.estimated and invoices.cost + coalesce(invoices.freight, 0) > 0;

insert into cost.problems by name
select
    'error' as severity, 'cost-below-nothing' as code, month_of(date) as month, file, sheet, row, 'cost' as field,
    cost::decimal(18,2)::text as value, 'at least 0' as expected,
    'the invoices and credits of this receipt of ' || material || ' come to ' || money(invoiced_cost) || ', which takes its cost to '
        || money(cost) as message,
    case when estimated then 'an invoice takes the place of the estimate: add the one that the credit belongs to'
        else 'correct the credit' end as action
from cost.receipt_costs
where cost < 0;

-- More was drawn than was expected to come out good, so the cost left the lot before the beer did (C8).
insert into cost.problems by name
select
    'warning' as severity, 'cost-drawn-out' as code, month_of(lot_days.date) as month, 'lot' as field,
    lot_days.lot as value, 'beer that still carries cost' as expected,
    'lot ' || lot_days.lot || ' gives ' || shown(lot_days.drawn_bbl) || ' bbl on ' || lot_days.date
        || ' after all that was expected of it was drawn: this beer carries only later costs' as message,
    'check the volumes of the lot' as action
from volume.lot_days
where expected_bbl = 0 and drawn_bbl > 0 and in_hand_bbl + drawn_bbl > 0;

insert into cost.problems by name
select
    'error' as severity, 'ring' as code, month_of(date) as month, repacks.file, repacks.sheet, repacks.row,
    'to_package' as field, repacks.to_package as value, 'goods that are not repacked into themselves' as expected,
    'repack ' || repacks.document || ' puts ' || repacks.to_package || ' of ' || repacks.to_beer
        || ' back into what it was made from; the row is left out of every figure' as message,
    'write the repacks of the month as what they came to in the end' as action
from record.repacks
where exists (
    select 1
    from cost.repacks as rings
    where rings.in_ring and rings.file = repacks.file and rings.sheet is not distinct from repacks.sheet
        and rings.row = repacks.row
)
union all by name
-- Beer is lost in a repack, never made; more than a tenth either way is a wrong figure (a rule of ours).
select
    'warning' as severity, 'repack-unequal' as code, month_of(repacks.date) as month, repacks.file, repacks.sheet, repacks.row,
    'to_units' as field, repacks.to_units::text as value, 'as much beer as was taken, or a little less' as expected,
    repacks.document || ' makes ' || shown(repacks.to_bbl) || ' bbl of ' || repacks.to_beer || ' out of '
        || shown(repacks.from_bbl) || ' bbl' as message,
    'check the units and the packages' as action
from (
    select repacks.*,
        barrels(from_units, sources.bbl_numerator, sources.bbl_denominator) as from_bbl,
        barrels(to_units, targets.bbl_numerator, targets.bbl_denominator) as to_bbl
    from record.repacks as repacks
    join record.packages as sources on sources.package = repacks.from_package
    join record.packages as targets on targets.package = repacks.to_package
) as repacks
where repacks.to_bbl not between repacks.from_bbl * 0.9 and repacks.from_bbl * 1.1;
