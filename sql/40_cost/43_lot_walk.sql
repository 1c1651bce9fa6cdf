-- table: macros
-- grain: the way of cost through the lots, whatever it is divided into
-- key: none
-- units: as the arrivals
-- reads: cost.lot_nodes, cost.lot_levels, cost.lot_draws
-- rule: C6, C8, C9
-- source: calculation rule C8; one statement goes level by level, every lot of a level at once; only volumes decide the shares

-- What each node of a lot held before its draws and what they took, by element or component, level by level.
--   arrivals   a table node, element, amount
create or replace macro lot_walk(arrivals) as table
with recursive
elements as (
    select distinct element from query_table(arrivals)
),
own as (
    select node, element, sum(amount) as amount from query_table(arrivals) group by node, element
),
due as (
    select lot_nodes.node, lot_nodes.before_node, lot_levels.level, elements.element,
        coalesce(own.amount, 0) as own_cost, lot_nodes.drawn_bbl, lot_nodes.expected_bbl, lot_nodes.emptied,
        lot_nodes.abnormal
    from cost.lot_nodes
    join cost.lot_levels using (node)
    cross join elements
    left join own on own.node = lot_nodes.node and own.element = elements.element
),
costs(node, element, level, arrived, before_draws, taken, abnormal, carried) using key (node, element) as (
    select null::bigint, null::text, -1::bigint, null::decimal(18,6), null::decimal(18,6), null::decimal(18,6),
        null::decimal(18,6), null::decimal(18,6)
    union all
    (
        with clock as (
            select max(level) + 1 as level from costs
        ),
        now_due as (
            select due.* from due join clock using (level)
        ),
        transferred as (
            select lot_draws.to_node as node, known.element,
                sum(passed_on(
                    part_of_day(known.taken, lot_draws.volume_bbl, lot_draws.day_bbl, lot_draws.other_volumes),
                    lot_draws.good_bbl, lot_draws.expected_bbl
                )) as amount
            from (select distinct node from now_due) as now_nodes
            join cost.lot_draws on lot_draws.to_node = now_nodes.node
            join recurring.costs as known on known.node = lot_draws.node
            group by lot_draws.to_node, known.element
        ),
        filled as (
            select now_due.*,
                (now_due.own_cost + coalesce(transferred.amount, 0))::decimal(18,6) as arrived,
                (now_due.own_cost + coalesce(transferred.amount, 0) + coalesce(known.carried, 0))::decimal(18,6)
                    as in_the_lot
            from now_due
            left join transferred on transferred.node = now_due.node and transferred.element = now_due.element
            left join recurring.costs as known on known.node = now_due.before_node
                and known.element = now_due.element
        ),
        drawn as (
            select *,
                case
                    when drawn_bbl = 0 then 0
                    -- The last draw of a lot that lost no more than it may takes all that is left.
                    when emptied and not abnormal then in_the_lot
                    when drawn_bbl >= expected_bbl then in_the_lot
                    else part6(in_the_lot, drawn_bbl, expected_bbl)
                end::decimal(18,6) as taken
            from filled
        )
        select node, element, level, arrived, in_the_lot, taken,
            case when emptied then in_the_lot - taken else 0 end::decimal(18,6),
            case when emptied then 0 else in_the_lot - taken end::decimal(18,6)
        from drawn
    )
)
select node, element, arrived, before_draws, taken, abnormal, carried
from costs
where node is not null;
