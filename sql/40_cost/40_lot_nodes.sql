-- table: cost.lot_nodes
-- grain: one lot on one day on which beer or cost comes in, or beer goes out
-- key: node
-- units: bbl
-- reads: volume.lot_days, volume.lot_balances, cost.charges, volume.lot_months
-- rule: C8
-- source: calculation rule C8

create table cost.lot_nodes (
    node bigint primary key,
    before_node bigint,
    site text not null,
    lot text not null,
    date date not null,
    month text not null,
    drawn_bbl decimal(18,6) not null,
    expected_bbl decimal(18,6) not null,
    emptied boolean not null,
    abnormal boolean not null,
    unique (site, lot, date)
);

insert into cost.lot_nodes by name
with
days as (
    select site, lot, date from volume.lot_days
    union
    select site, lot, date from cost.charges where charged and lot is not null
    union
    -- The month's shared cost stands in the lot from its first day in the month.
    select site, lot, from_day as date from volume.lot_months
),
numbered as (
    select site, lot, date, row_number() over (order by site, lot, date) as node
    from days
)
select
    numbered.node,
    lag(numbered.node) over (partition by numbered.site, numbered.lot order by numbered.date) as before_node,
    numbered.site,
    numbered.lot,
    numbered.date,
    month_of(numbered.date) as month,
    coalesce(lot_days.drawn_bbl, 0) as drawn_bbl,
    coalesce(lot_days.expected_bbl, 0) as expected_bbl,
    coalesce(lot_days.emptied, false) as emptied,
    coalesce(lot_balances.abnormal_bbl > 0, false) as abnormal
from numbered
left join volume.lot_days using (site, lot, date)
left join volume.lot_balances using (site, lot);
