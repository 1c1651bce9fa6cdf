-- table: cost.draw_costs
-- grain: one draw from a lot and element of cost: what it took, what it hands on, what is abnormal loss
-- key: kind, name, line, element
-- units: money
-- reads: cost.lot_draws, cost.lot_costs
-- rule: C8, C9
-- source: calculation rules C8, C9; the loss of a run line follows in cost.run_lines (C10)

create table cost.draw_costs (
    kind text not null,
    name text not null,
    line bigint not null,
    element text not null,
    taken decimal(18,6) not null,
    good_cost decimal(18,6) not null,
    abnormal_cost decimal(18,6) not null
);

insert into cost.draw_costs by name
with
parts as (
    select
        lot_draws.kind, lot_draws.name, lot_draws.line, lot_costs.element,
        part_of_day(lot_costs.taken, lot_draws.volume_bbl, lot_draws.day_bbl, lot_draws.other_volumes) as taken,
        lot_draws.good_bbl, lot_draws.expected_bbl
    from cost.lot_draws
    join cost.lot_costs using (node)
)
select
    kind, name, line, element, taken,
    passed_on(taken, good_bbl, expected_bbl) as good_cost,
    taken - passed_on(taken, good_bbl, expected_bbl) as abnormal_cost
from parts;
