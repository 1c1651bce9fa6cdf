-- table: cost.draw_components
-- grain: one draw from a lot and component of cost
-- key: kind, name, line, component
-- units: money; the components `barrels` bbl
-- reads: cost.component_arrivals, cost.lot_nodes, cost.lot_levels, cost.lot_draws
-- rule: M3, C8
-- source: lot_walk in 43_lot_walk.sql

create table cost.draw_components (
    kind text not null,
    name text not null,
    line bigint not null,
    component text not null,
    taken decimal(18,6) not null
);

insert into cost.draw_components by name
select lot_draws.kind, lot_draws.name, lot_draws.line, walked.element as component,
    part_of_day(walked.taken, lot_draws.volume_bbl, lot_draws.day_bbl, lot_draws.other_volumes) as taken
from (select * from lot_walk('cost.component_arrivals') where taken <> 0) as walked
join cost.lot_draws using (node);
