-- table: cost.shipment_costs
-- grain: one shipment line, restocked return line or serving-tank fill with its barrels and cost
-- key: kind, document, line
-- units: packages, bbl, money; a return is negative: it puts cost back
-- reads: record.shipments, record.returns, record.moves, cost.goods_moves, volume.moves, volume.lots, cost.draw_costs
-- rule: C8, C11
-- source: sale, own_location, tavern, in_bond, export, vessel_supply, spirits_plant and unfit are cost of goods sold;
--   any other purpose is a period expense under its own name

create table cost.shipment_costs (
    kind text not null,
    document text not null,
    line bigint not null,
    date date not null,
    month text not null,
    site text not null,
    account text,
    beer text,
    package text not null,
    purpose text not null,
    of_goods_sold boolean not null,
    units decimal(18,6) not null,
    bbl decimal(18,6) not null,
    cost decimal(18,6) not null,
    short_units decimal(18,6) not null,
    file text not null,
    sheet text,
    row bigint not null
);

insert into cost.shipment_costs by name
with
tank_fills as (
    select name as move, sum(taken) as cost from cost.draw_costs where kind = 'move' group by name
)
select
    'shipment' as kind, shipments.document, shipments.line, shipments.date, moves.month, shipments.site,
    shipments.account, shipments.beer, shipments.package, shipments.purpose,
    shipments.purpose in (
        'sale', 'own_location', 'tavern', 'in_bond', 'export', 'vessel_supply', 'spirits_plant', 'unfit'
    ) as of_goods_sold,
    moves.short_units - moves.units as units,
    moves.short_bbl - moves.bbl as bbl,
    moves.short_cost - moves.cost as cost,
    moves.short_units, shipments.file, shipments.sheet, shipments.row
from record.shipments
join cost.goods_moves as moves on moves.kind = 'shipped' and moves.document = shipments.document
    and moves.line = shipments.line and moves.site = shipments.site and moves.beer = shipments.beer
    and moves.package = shipments.package
union all by name
select
    'return' as kind, returns.document, returns.line, returns.date, moves.month, returns.site, returns.account,
    returns.beer, returns.package, returns.outcome as purpose, true as of_goods_sold,
    -moves.units as units, -moves.bbl as bbl, -moves.cost as cost, 0 as short_units,
    returns.file, returns.sheet, returns.row
from record.returns
join cost.goods_moves as moves on moves.kind = 'restocked' and moves.document = returns.document
    and moves.line = returns.line and moves.site = returns.site and moves.beer = returns.beer
    and moves.package = returns.package
union all by name
select
    'serving_tank' as kind, moves.move as document, 1 as line, moves.date, moves.month, moves.site, moves.account,
    lots.beer, 'bulk' as package, 'serving_tank' as purpose, true as of_goods_sold,
    0 as units, moves.volume_out_bbl as bbl, coalesce(tank_fills.cost, 0) as cost, 0 as short_units,
    records.file, records.sheet, records.row
from volume.moves
join record.moves as records using (move)
join volume.lots on lots.site = moves.site and lots.lot = moves.from_lot
left join tank_fills using (move)
where moves.reason = 'serving_tank';
