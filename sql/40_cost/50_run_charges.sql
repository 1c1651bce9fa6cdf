-- table: cost.run_charges
-- grain: one run line and element of cost charged to it directly or through its run
-- key: run, line, element
-- units: money
-- reads: cost.charges, cost.pool_shares, volume.run_lines
-- rule: C2, C3, C4, C10
-- source: what is charged to a run is spread over its lines by good barrels (none good: evenly); the rounding remainder
--   goes to the largest part (ties: first by key)

create table cost.run_charges (
    run text not null,
    line bigint not null,
    element text not null,
    amount decimal(18,6) not null
);

insert into cost.run_charges by name
with
to_runs as (
    select run, element, sum(amount) as amount
    from (
        select run, element, amount from cost.charges where charged and run is not null
        union all by name
        select run, element, amount from cost.pool_shares where run is not null and line is null
    )
    group by run, element
),
weights as (
    select run, line,
        case when sum(good_bbl) over (partition by run) > 0 then good_bbl else 1 end as weight
    from volume.run_lines
),
totals as (
    select run, sum(weight) as total from weights group by run
),
parts as (
    select to_runs.run, weights.line, to_runs.element, to_runs.amount, weights.weight,
        part6(to_runs.amount, weights.weight, totals.total) as part
    from to_runs
    join weights using (run)
    join totals using (run)
),
spread as (
    select run, line, element,
        part + case
            when row_number() over (partition by run, element order by weight desc, line) = 1
                then amount - sum(part) over (partition by run, element)
            else 0
        end as amount
    from parts
    union all by name
    select run, line, element, amount from cost.pool_shares where line is not null
)
select run, line, element, sum(amount) as amount
from spread
group by run, line, element;
