-- table: volume.lot_months
-- grain: one lot in one month in which it holds beer
-- key: site, lot, month
-- units: bbl; days in the tank, first and last included
-- reads: volume.lots, volume.inflows, volume.draws, record.months
-- rule: V2, C3 (tank_days)
-- source: a lot holds its tank from its first inflow to the day it is emptied, both included

create table volume.lot_months (
    site text not null,
    lot text not null,
    month text not null,
    from_day date not null,
    tank_days bigint not null,
    opening_bbl decimal(18,6) not null,
    in_bbl decimal(18,6) not null,
    drawn_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    closing_bbl decimal(18,6) not null
);

insert into volume.lot_months by name
with
held as (
    select
        lots.site, lots.lot, months.month,
        greatest(lots.opened_on, months.first_day) as from_day,
        least(coalesce(lots.emptied_on, months.last_day), months.last_day) as to_day,
        coalesce(lots.emptied_on <= months.last_day, false) as emptied
    from volume.lots
    join record.months on months.last_day >= lots.opened_on
        and months.first_day <= coalesce(lots.emptied_on, months.last_day)
),
flows as (
    select site, lot, month_of(date) as month,
        case when source = 'opening' then volume_bbl else 0 end as opening_bbl,
        case when source = 'opening' then 0 else volume_bbl end as in_bbl,
        0::decimal(18,6) as drawn_bbl
    from volume.inflows
    union all by name
    select site, lot, month_of(date) as month, 0::decimal(18,6) as opening_bbl, 0::decimal(18,6) as in_bbl,
        volume_bbl as drawn_bbl
    from volume.draws
),
monthly as (
    select site, lot, month, sum(opening_bbl) as opening_bbl, sum(in_bbl) as in_bbl, sum(drawn_bbl) as drawn_bbl
    from flows
    group by site, lot, month
),
running as (
    select
        held.*,
        coalesce(monthly.in_bbl, 0) as in_bbl,
        coalesce(monthly.drawn_bbl, 0) as drawn_bbl,
        -- An opening balance is there before the first day of the books.
        sum(coalesce(monthly.opening_bbl, 0)) over so_far
            + coalesce(sum(coalesce(monthly.in_bbl, 0) - coalesce(monthly.drawn_bbl, 0)) over before, 0)
            as opening_bbl
    from held
    left join monthly using (site, lot, month)
    window
        so_far as (partition by held.site, held.lot order by held.month),
        before as (partition by held.site, held.lot order by held.month
            rows between unbounded preceding and 1 preceding)
)
select
    site,
    lot,
    month,
    from_day,
    to_day - from_day + 1 as tank_days,
    opening_bbl,
    in_bbl,
    drawn_bbl,
    case when emptied then opening_bbl + in_bbl - drawn_bbl else 0 end as loss_bbl,
    case when emptied then 0 else opening_bbl + in_bbl - drawn_bbl end as closing_bbl
from running;
