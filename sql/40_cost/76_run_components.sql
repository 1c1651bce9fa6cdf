-- table: cost.run_components
-- grain: one run line and component of cost in its good packages
-- key: run, line, component
-- units: money; the components `barrels` bbl
-- reads: cost.draw_components, cost.component_inputs, volume.run_lines, volume.stage_losses, cost.run_line_costs
-- rule: M3, C10
-- source: calculation rule C10 by component; an element's rounding remainder goes to its largest component, so that the
--   components of a run line add up to its cost

create table cost.run_components (
    run text not null,
    line bigint not null,
    component text not null,
    amount decimal(18,6) not null
);

insert into cost.run_components by name
with
weights as (
    select run, line,
        case when sum(good_bbl) over (partition by run) > 0 then good_bbl else 1 end as weight
    from volume.run_lines
),
totals as (
    select run, sum(weight) as total from weights group by run
),
to_runs as (
    select run, component, sum(amount) as amount
    from cost.component_inputs
    where run is not null and line is null
    group by run, component
),
costs as (
    select name as run, line, component, taken as beer_cost, 0::decimal(18,6) as charged_cost
    from cost.draw_components
    where kind = 'run'
    union all by name
    select to_runs.run, weights.line, to_runs.component, 0::decimal(18,6) as beer_cost,
        part6(to_runs.amount, weights.weight, totals.total) as charged_cost
    from to_runs
    join weights using (run)
    join totals using (run)
    union all by name
    select run, line, component, 0::decimal(18,6) as beer_cost, amount as charged_cost
    from cost.component_inputs
    where line is not null
),
summed as (
    select run, line, component, sum(beer_cost)::decimal(18,6) as beer_cost,
        sum(charged_cost)::decimal(18,6) as charged_cost
    from costs
    group by run, line, component
),
good as (
    select
        summed.run, summed.line, summed.component, split_part(summed.component, '/', 1) as element,
        case
            when losses.abnormal_bbl > 0
                then part6(summed.beer_cost, losses.volume_out_bbl, losses.volume_in_bbl - losses.allowed_bbl)
            else summed.beer_cost
        end + part6(
            summed.charged_cost,
            run_lines.filled * 100,
            greatest((run_lines.filled + run_lines.rejected) * (100 - run_lines.allowed_pct), run_lines.filled * 100)
        ) as amount
    from summed
    join volume.run_lines using (run, line)
    join volume.stage_losses as losses on losses.stage = 'packaging' and losses.run = summed.run
        and losses.line = summed.line
    where run_lines.filled > 0
),
trued as (
    select good.run, good.line, good.component,
        good.amount + case
            when good.element <> 'barrels' and row_number() over (
                partition by good.run, good.line, good.element order by abs(good.amount) desc, good.component
            ) = 1 then coalesce(whole.good_cost, 0)
                - sum(good.amount) over (partition by good.run, good.line, good.element)
            else 0
        end as amount
    from good
    left join cost.run_line_costs as whole on whole.run = good.run and whole.line = good.line
        and whole.element = good.element
)
select run, line, component, amount
from trued
where amount <> 0
union all by name
select run, line, 'barrels/packaged/none' as component, good_bbl as amount
from volume.run_lines
where filled > 0;
