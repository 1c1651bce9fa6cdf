-- table: cost.lot_costs
-- grain: one lot on one day and element of cost: in the lot before the day's draws, and taken by them
-- key: node, element
-- units: money
-- reads: cost.lot_nodes, cost.lot_levels, cost.lot_arrivals, cost.lot_draws
-- rule: C6, C8, C9
-- source: calculation rule C8; lot_walk in 43_lot_walk.sql

create table cost.lot_costs (
    node bigint not null,
    element text not null,
    arrived decimal(18,6) not null,
    before_draws decimal(18,6) not null,
    taken decimal(18,6) not null,
    abnormal decimal(18,6) not null,
    carried decimal(18,6) not null
);

insert into cost.lot_costs by name
select node, element, arrived, before_draws, taken, abnormal, carried
from lot_walk('cost.lot_arrivals');
