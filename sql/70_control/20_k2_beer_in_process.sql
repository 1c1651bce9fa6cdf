-- table: control.k2_beer_in_process
-- grain: one month and site
-- key: month, subject
-- units: money
-- reads: cost.brew_costs, cost.lot_arrivals, cost.run_charges, result.lot_months, cost.run_costs, cost.draw_costs,
--   cost.lot_nodes, volume.brews, volume.moves, volume.run_lines
-- rule: K2
-- source: cost put into brews, lots and runs = change in beer in process + goods packaged + abnormal loss + samples +
--   destroyed + serving tanks

create table control.k2_beer_in_process (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k2_beer_in_process by name
with
put_in as (
    select brews.month, brews.site, brew_costs.cost as amount
    from cost.brew_costs
    join volume.brews using (brew)
    union all by name
    select lot_nodes.month, lot_nodes.site, lot_arrivals.amount
    from cost.lot_arrivals
    join cost.lot_nodes using (node)
    where lot_arrivals.source not in ('opening', 'brew')
    union all by name
    select run_lines.month, run_lines.site, run_charges.amount
    from cost.run_charges
    join volume.run_lines using (run, line)
),
came_out as (
    select month, site, closing_cost - opening_cost - correction_cost as amount from result.lot_months
    union all by name
    select month, site, total_cost as amount from cost.run_costs
    union all by name
    select brews.month, brews.site, brew_costs.abnormal_cost as amount
    from cost.brew_costs
    join volume.brews using (brew)
    union all by name
    select month, site, abnormal_cost as amount from result.lot_months
    union all by name
    select moves.month, moves.site, draw_costs.abnormal_cost as amount
    from cost.draw_costs
    join volume.moves on draw_costs.kind = 'move' and moves.move = draw_costs.name
    union all by name
    select month, site, abnormal_cost as amount from cost.run_costs
    union all by name
    select moves.month, moves.site, draw_costs.taken as amount
    from cost.draw_costs
    join volume.moves on draw_costs.kind = 'move' and moves.move = draw_costs.name
    where moves.to_lot is null
),
sides as (
    select month, site, sum(amount) as expected, 0 as actual from put_in group by month, site
    union all by name
    select month, site, 0 as expected, sum(amount) as actual from came_out group by month, site
)
select month, 'K2' as control, site || ' · cost into and out of beer in process' as subject,
    sum(expected) as expected, sum(actual) as actual
from sides
group by month, site;
