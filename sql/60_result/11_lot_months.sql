-- table: result.lot_months
-- grain: one lot in one month in which it holds beer
-- key: month, site, lot
-- units: bbl, money
-- reads: volume.lot_months, volume.lots, cost.lot_nodes, cost.lot_costs, cost.lot_arrivals
-- rule: C8
-- source: opening + correction + in - drawn - loss = closing; opening + correction + added - drawn - abnormal = closing

create table result.lot_months (
    month text not null,
    site text not null,
    lot text not null,
    beer text,
    opening_bbl decimal(18,6) not null,
    correction_bbl decimal(18,6) not null,
    in_bbl decimal(18,6) not null,
    drawn_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    closing_bbl decimal(18,6) not null,
    opening_cost decimal(18,6) not null,
    correction_cost decimal(18,6) not null,
    added_cost decimal(18,6) not null,
    drawn_cost decimal(18,6) not null,
    abnormal_cost decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    primary key (month, site, lot)
);

insert into result.lot_months by name
with
opened as (
    select lot_nodes.site, lot_nodes.lot, lot_nodes.month, sum(lot_arrivals.amount) as opened_cost
    from cost.lot_arrivals
    join cost.lot_nodes using (node)
    where lot_arrivals.source = 'opening'
    group by lot_nodes.site, lot_nodes.lot, lot_nodes.month
),
monthly as (
    select lot_nodes.site, lot_nodes.lot, lot_nodes.month, sum(lot_costs.arrived) as arrived_cost,
        sum(lot_costs.taken) as drawn_cost, sum(lot_costs.abnormal) as abnormal_cost
    from cost.lot_costs
    join cost.lot_nodes using (node)
    group by lot_nodes.site, lot_nodes.lot, lot_nodes.month
),
filled as (
    select
        lot_months.*,
        coalesce(opened.opened_cost, 0) as opened_cost,
        coalesce(monthly.arrived_cost, 0) - coalesce(opened.opened_cost, 0) as added_cost,
        coalesce(monthly.drawn_cost, 0) as drawn_cost,
        coalesce(monthly.abnormal_cost, 0) as abnormal_cost,
        sum(coalesce(monthly.arrived_cost, 0) - coalesce(monthly.drawn_cost, 0)
            - coalesce(monthly.abnormal_cost, 0)) over (
            partition by lot_months.site, lot_months.lot order by lot_months.month
        ) as closing_cost
    from volume.lot_months
    left join monthly using (site, lot, month)
    left join opened using (site, lot, month)
),
rolled as (
    select
        filled.month, filled.site, filled.lot, lots.beer, filled.opening_bbl, 0 as correction_bbl, filled.in_bbl,
        filled.drawn_bbl, filled.loss_bbl, filled.closing_bbl,
        filled.opened_cost + coalesce(lag(filled.closing_cost) over (
            partition by filled.site, filled.lot order by filled.month
        ), 0) as opening_cost,
        0 as correction_cost,
        filled.added_cost, filled.drawn_cost, filled.abnormal_cost, filled.closing_cost
    from filled
    join volume.lots using (site, lot)
)
select *
from rolled
where opening_bbl <> 0 or in_bbl <> 0 or drawn_bbl <> 0 or loss_bbl <> 0 or closing_bbl <> 0 or opening_cost <> 0
    or added_cost <> 0 or drawn_cost <> 0 or abnormal_cost <> 0 or closing_cost <> 0;
