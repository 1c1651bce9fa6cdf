-- table: cost.run_line_costs
-- grain: one run line and element of cost
-- key: run, line, element
-- units: money. beer_: what the beer drawn cost; charged_: what was charged to the line; good_: what the packages carry
-- reads: volume.run_lines, volume.stage_losses, cost.draw_costs, cost.run_charges
-- rule: C6, C10
-- source: calculation rule C10

create table cost.run_line_costs (
    run text not null,
    line bigint not null,
    element text not null,
    beer_cost decimal(18,6) not null,
    charged_cost decimal(18,6) not null,
    good_cost decimal(18,6) not null,
    abnormal_cost decimal(18,6) not null
);

insert into cost.run_line_costs by name
with
costs as (
    select name as run, line, element, taken as beer_cost, 0::decimal(18,6) as charged_cost
    from cost.draw_costs
    where kind = 'run'
    union all by name
    select run, line, element, 0::decimal(18,6) as beer_cost, amount as charged_cost
    from cost.run_charges
),
summed as (
    select run, line, element, sum(beer_cost)::decimal(18,6) as beer_cost,
        sum(charged_cost)::decimal(18,6) as charged_cost
    from costs
    group by run, line, element
),
good as (
    select
        summed.*,
        case
            when run_lines.filled = 0 then 0
            when losses.abnormal_bbl > 0
                then part6(summed.beer_cost, losses.volume_out_bbl, losses.volume_in_bbl - losses.allowed_bbl)
            else summed.beer_cost
        end::decimal(18,6) as good_beer,
        case
            when run_lines.filled = 0 then 0
            else part6(
                summed.charged_cost,
                run_lines.filled * 100,
                greatest((run_lines.filled + run_lines.rejected) * (100 - run_lines.allowed_pct),
                    run_lines.filled * 100)
            )
        end::decimal(18,6) as good_charged
    from summed
    join volume.run_lines using (run, line)
    join volume.stage_losses as losses on losses.stage = 'packaging' and losses.run = summed.run
        and losses.line = summed.line
)
select
    run, line, element, beer_cost, charged_cost,
    good_beer + good_charged as good_cost,
    beer_cost + charged_cost - good_beer - good_charged as abnormal_cost
from good;
