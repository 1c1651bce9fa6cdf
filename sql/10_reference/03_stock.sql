-- table: macros
-- grain: how a stock is walked through: materials and goods alike
-- key: none
-- units: the item's own
-- reads: a table of events: item, seq, month, kind, qty_in, qty_out, counted_qty
-- rule: C1, C11, C16
-- source: first in, first out and monthly average (IAS 2 paragraphs 25 and 27; ASC 330-10-30-9)

-- Walk every item through its events in order. A count ends a stretch: it sets the book quantity. Inside a stretch what is
-- taken beyond the stock on hand is short: the books stay at 0 and later receipts are not reduced. With S the running sum
-- of the stretch, the shortage so far is the deepest S below 0, so one pass of window sums does it.
--   balance_qty   on hand after the event        short_qty      part of qty_out that was not there
--   counted_in, counted_out   what a count added or found missing
--   taken_in, taken_out       what truly entered or left, counts included
create or replace macro stock_walk(events) as table
with
-- The windows sort what they look at four times over, so they are given no more than they need.
quantities as (
    select item, seq, qty_in, qty_out, counted_qty from query_table(events)
),
stretches as (
    select
        *,
        count(counted_qty) over before as stretch,
        last_value(counted_qty ignore nulls) over before as counted_before
    from quantities
    window before as (partition by item order by seq rows between unbounded preceding and 1 preceding)
),
running as (
    select
        *,
        (coalesce(counted_before, 0) + sum(qty_in - qty_out) over so_far)::decimal(18,6) as running_qty
    from stretches
    window so_far as (partition by item, stretch order by seq rows between unbounded preceding and current row)
),
shortages as (
    select
        *,
        greatest(-min(running_qty) over so_far, 0)::decimal(18,6) as short_so_far
    from running
    window so_far as (partition by item, stretch order by seq rows between unbounded preceding and current row)
),
books as (
    select
        item, seq,
        (running_qty + short_so_far)::decimal(18,6) as book_qty,
        (short_so_far - coalesce(lag(short_so_far) over (partition by item, stretch order by seq), 0))
            ::decimal(18,6) as short_qty
    from shortages
)
select
    events.*,
    books.book_qty,
    books.short_qty,
    coalesce(events.counted_qty, books.book_qty) as balance_qty,
    greatest(events.counted_qty - books.book_qty, 0)::decimal(18,6) as counted_in,
    greatest(books.book_qty - events.counted_qty, 0)::decimal(18,6) as counted_out,
    (events.qty_in + coalesce(greatest(events.counted_qty - books.book_qty, 0), 0))::decimal(18,6) as taken_in,
    (events.qty_out - books.short_qty + coalesce(greatest(books.book_qty - events.counted_qty, 0), 0))
        ::decimal(18,6) as taken_out
from query_table(events) as events
join books using (item, seq);

-- The layers of each item. By fifo a layer is one event that brought stock in; by average it is one month of the item:
-- what was carried over from the month before and all that came in. What a count found over enters at `unit_cost`.
--   walk     a table made by stock_walk from events that also have cost_in and unit_cost
--   method   'fifo' or 'average'
--   result   item, layer, month, layer_qty, carried_qty (of layer_qty: from the layer before), own_cost
create or replace macro stock_layers(walk, method) as table
with
inflows as (
    select
        item, seq, month, taken_in, balance_qty,
        cost_in + coalesce(at_price(counted_in, unit_cost), 0) as own_cost
    from query_table(walk)
),
months as (
    select item, month, sum(taken_in) as qty_in, sum(own_cost) as own_cost,
        arg_max(balance_qty, seq) as closing_qty
    from inflows
    group by item, month
),
carried as (
    select *, coalesce(lag(closing_qty) over (partition by item order by month), 0) as carried_qty
    from months
)
select item, seq as layer, month, taken_in::decimal(18,6) as layer_qty, 0::decimal(18,6) as carried_qty,
    own_cost::decimal(18,6) as own_cost
from inflows
where method = 'fifo' and taken_in > 0
union all
select item, row_number() over (partition by item order by month) as layer, month,
    (carried_qty + qty_in)::decimal(18,6) as layer_qty, carried_qty::decimal(18,6) as carried_qty,
    own_cost::decimal(18,6) as own_cost
from carried
where method = 'average';

-- Which layer each taking comes out of, and where in it.
-- By fifo the layers lie end to end along a line, and so do the takings. Cutting the line at every end gives pieces that lie
-- in one layer and one taking each. By average the takings of a month lie end to end in the month's layer.
--   result   item, layer, seq (of the taking), from_qty, to_qty: the part of the layer, measured from its start
create or replace macro stock_takings(walk, layers, method) as table
with
line as (
    select item, layer, sum(layer_qty) over (partition by item order by layer) - layer_qty as first_qty,
        sum(layer_qty) over (partition by item order by layer) as last_qty
    from query_table(layers)
    where method = 'fifo'
),
takings as (
    select item, seq, sum(taken_out) over (partition by item order by seq) as last_qty
    from query_table(walk)
    where taken_out > 0 and method = 'fifo'
),
taken as (
    select item, max(last_qty) as taken_qty
    from takings
    group by item
),
cuts as (
    select item, last_qty from takings
    union
    select line.item, line.last_qty
    from line
    join taken on taken.item = line.item and line.last_qty < taken.taken_qty
),
pieces as (
    select item, coalesce(lag(last_qty) over (partition by item order by last_qty), 0) as first_qty, last_qty
    from cuts
),
in_taking as (
    select pieces.item, pieces.first_qty, pieces.last_qty, takings.seq
    from pieces
    asof join takings on pieces.item = takings.item and pieces.last_qty <= takings.last_qty
),
in_month as (
    select item, seq, month, taken_out, sum(taken_out) over (partition by item, month order by seq) as last_qty
    from query_table(walk)
    where taken_out > 0 and method = 'average'
)
select in_taking.item, line.layer, in_taking.seq,
    (in_taking.first_qty - line.first_qty)::decimal(18,6) as from_qty,
    (in_taking.last_qty - line.first_qty)::decimal(18,6) as to_qty
from in_taking
asof join line on in_taking.item = line.item and in_taking.last_qty <= line.last_qty
union all
select in_month.item, layers.layer, in_month.seq,
    (in_month.last_qty - in_month.taken_out)::decimal(18,6) as from_qty, in_month.last_qty::decimal(18,6) as to_qty
from in_month
join query_table(layers) as layers on layers.item = in_month.item and layers.month = in_month.month;

-- What lies in each layer before a month begins: takings come from a layer's start, so what is left is its end. By average
-- the latest layer holds what is left of all before it.
--   result   item, layer, cost
create or replace macro stock_left(walk, layers, takings, costs, method, before) as table
with
taken as (
    select takings.item, takings.layer, max(takings.to_qty) as to_qty
    from query_table(takings) as takings
    join query_table(walk) as walk on walk.item = takings.item and walk.seq = takings.seq and walk.month < before
    group by takings.item, takings.layer
),
earlier as (
    select *, row_number() over (partition by item order by layer desc) as age
    from query_table(layers)
    where month < before
)
select earlier.item, earlier.layer,
    cost_between(costs.cost, coalesce(taken.to_qty, 0), costs.layer_qty, costs.layer_qty) as cost
from earlier
join query_table(costs) as costs on costs.item = earlier.item and costs.layer = earlier.layer
left join taken on taken.item = earlier.item and taken.layer = earlier.layer
where (method = 'fifo' or earlier.age = 1) and coalesce(taken.to_qty, 0) < costs.layer_qty;

-- By average, each month's layer is fed by what is left of the one before it.
--   result   item, layer, from_item, from_layer, from_qty, to_qty
create or replace macro stock_carries(layers) as table
select later.item, later.layer, earlier.item as from_item, earlier.layer as from_layer,
    (earlier.layer_qty - later.carried_qty)::decimal(18,6) as from_qty, earlier.layer_qty as to_qty
from query_table(layers) as later
join query_table(layers) as earlier on earlier.item = later.item and earlier.layer = later.layer - 1
where later.carried_qty > 0;

-- The cost of a layer's first qty units: rounded along the layer, so that its parts add up to the layer exactly and a part
-- never changes when later parts are taken.
create or replace macro cost_up_to(cost, qty, layer_qty) as
    case when qty = layer_qty then cost else part6(cost, qty, layer_qty) end;

create or replace macro cost_between(cost, from_qty, to_qty, layer_qty) as
    (cost_up_to(cost, to_qty, layer_qty) - cost_up_to(cost, from_qty, layer_qty))::decimal(18,6);

-- The cost of every layer: its own, and what other layers feed into it. Goes level by level along the feeds.
--   layers   as stock_layers      feeds   item, layer, from_item, from_layer, from_qty, to_qty
--   result   item, layer, layer_qty, cost
create or replace macro stock_layer_costs(layers, feeds) as table
with recursive
reached(item, layer, level) as (
    select layers.item, layers.layer, 0
    from query_table(layers) as layers
    anti join query_table(feeds) as feeds on feeds.item = layers.item and feeds.layer = layers.layer
    union all
    select feeds.item, feeds.layer, reached.level + 1
    from reached
    join query_table(feeds) as feeds on feeds.from_item = reached.item and feeds.from_layer = reached.layer
    group by all
),
levels as (
    select item, layer, max(level) as level from reached group by item, layer
),
due as (
    select layers.item, layers.layer, layers.layer_qty, layers.own_cost, levels.level
    from query_table(layers) as layers
    join levels using (item, layer)
),
costs(item, layer, level, layer_qty, cost) using key (item, layer) as (
    select item, layer, level, layer_qty, own_cost from due where level = 0
    union all
    (
        with clock as (
            select max(level) + 1 as level from costs
        ),
        now_due as (
            select due.* from due join clock using (level)
        ),
        fed as (
            select feeds.item, feeds.layer,
                sum(cost_between(known.cost, feeds.from_qty, feeds.to_qty, known.layer_qty)) as cost
            from now_due
            join query_table(feeds) as feeds on feeds.item = now_due.item and feeds.layer = now_due.layer
            join recurring.costs as known on known.item = feeds.from_item and known.layer = feeds.from_layer
            group by feeds.item, feeds.layer
        )
        select now_due.item, now_due.layer, now_due.level, now_due.layer_qty,
            (now_due.own_cost + fed.cost)::decimal(18,6)
        from now_due
        join fed using (item, layer)
    )
)
select item, layer, layer_qty, cost
from costs;

-- What each event took out of its layers, at their cost.
--   takings   as stock_takings      costs   as stock_layer_costs
--   result    item, seq, cost
create or replace macro stock_taken(takings, costs) as table
select takings.item, takings.seq,
    sum(cost_between(costs.cost, takings.from_qty, takings.to_qty, costs.layer_qty))::decimal(18,6) as cost
from query_table(takings) as takings
join query_table(costs) as costs on costs.item = takings.item and costs.layer = takings.layer
group by takings.item, takings.seq;
