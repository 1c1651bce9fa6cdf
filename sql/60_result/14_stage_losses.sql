-- table: result.stage_losses
-- grain: one stage of one brew, lot, move or run line
-- key: stage, brew, lot, move, run, package, line (those that the stage has)
-- units: bbl, lb of hops put into a lot, money; a gain is a negative loss
-- reads: volume.stage_losses, cost.brew_costs, cost.lot_nodes, cost.lot_costs, cost.draw_costs, cost.run_costs
-- rule: V1 to V7, C6
-- source: loss_cost: lost beer at cost in / volume in on reaching the stage; abnormal_cost: what C6 left over

create table result.stage_losses (
    month text not null,
    site text not null,
    beer text,
    style text,
    stage text not null,
    brew text,
    lot text,
    move text,
    run text,
    package text,
    line bigint,
    volume_in_bbl decimal(18,6) not null,
    volume_out_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6),
    allowed_bbl decimal(18,6),
    hops_lb decimal(18,6),
    hop_allowed_bbl decimal(18,6),
    abnormal_bbl decimal(18,6),
    reading_error_bbl decimal(18,6),
    beyond_reading_error boolean not null,
    loss_cost decimal(18,6),
    abnormal_cost decimal(18,6) not null
);

insert into result.stage_losses by name
with
costs as (
    select 'brew' as subject, brew as name, null as site, 0 as line, sum(cost) as cost_in,
        sum(abnormal_cost) as abnormal_cost
    from cost.brew_costs
    group by brew
    union all by name
    select 'lot' as subject, lot_nodes.lot as name, lot_nodes.site, 0 as line, sum(lot_costs.arrived) as cost_in,
        sum(lot_costs.abnormal) as abnormal_cost
    from cost.lot_costs
    join cost.lot_nodes using (node)
    group by lot_nodes.site, lot_nodes.lot
    union all by name
    select 'move' as subject, name, 0 as line, sum(taken) as cost_in, sum(abnormal_cost) as abnormal_cost
    from cost.draw_costs
    where kind = 'move'
    group by name
    union all by name
    select 'run' as subject, run as name, line, beer_cost as cost_in, abnormal_cost
    from cost.run_costs
),
subjects as (
    select
        losses.*,
        case
            when brew is not null then 'brew'
            when lot is not null then 'lot'
            when move is not null then 'move'
            else 'run'
        end as subject,
        coalesce(brew, lot, move, run) as name
    from volume.stage_losses as losses
)
select
    subjects.month, subjects.site, subjects.beer, subjects.style, subjects.stage, subjects.brew, subjects.lot,
    subjects.move, subjects.run, subjects.package, subjects.line, subjects.volume_in_bbl, subjects.volume_out_bbl,
    subjects.loss_bbl, subjects.allowed_bbl, subjects.hops_lb, subjects.hop_allowed_bbl,
    subjects.abnormal_bbl, subjects.reading_error_bbl,
    subjects.beyond_reading_error,
    case
        when subjects.loss_bbl is null then null
        when subjects.volume_in_bbl = 0 then 0
        else part6(coalesce(costs.cost_in, 0), subjects.loss_bbl, subjects.volume_in_bbl)
    end as loss_cost,
    coalesce(costs.abnormal_cost, 0) as abnormal_cost
from subjects
left join costs on costs.subject = subjects.subject and costs.name = subjects.name
    and costs.line = coalesce(subjects.line, 0) and coalesce(costs.site, subjects.site) = subjects.site;
