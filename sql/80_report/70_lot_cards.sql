-- table: report.lot_cards
-- grain: one day on which beer flowed into or out of a lot or it was dipped, of lots whose gravity was never read
-- key: site, lot, date
-- units: bbl; days since the lot was filled; half-barrel kegs of 15.5 gal at no loss
-- reads: report.lot_heads, result.lot_flows, result.lot_readings, report.lot_curves
-- rule: V10
-- source: none; presentation

create table report.lot_cards (
    month text not null,
    page text not null,
    site text not null,
    lot text not null,
    date date not null,
    day bigint not null,
    what text not null,
    in_bbl decimal(18,6),
    out_bbl decimal(18,6),
    in_hand_bbl decimal(18,6) not null,
    dip_bbl decimal(18,6)
);

insert into report.lot_cards by name
with
days as (
    select site, lot, date, sum(volume_bbl) filter (where direction = 'in') as in_bbl,
        sum(volume_bbl) filter (where direction = 'out') as out_bbl
    from result.lot_flows
    group by site, lot, date
    union all by name
    select site, lot, date, avg(volume_bbl)::decimal(18,6) as dip_bbl
    from result.lot_readings
    where volume_bbl is not null
    group by site, lot, date
),
summed as (
    select site, lot, date, sum(in_bbl) as in_bbl, sum(out_bbl) as out_bbl, sum(dip_bbl) as dip_bbl
    from days
    group by site, lot, date
),
running as (
    select *, sum(coalesce(in_bbl, 0) - coalesce(out_bbl, 0)) over (partition by site, lot order by date) as in_hand_bbl
    from summed
)
select heads.month, heads.page, running.*, date_diff('day', heads.opened_on, running.date) as day,
    case when running.date >= heads.emptied_on then 'empty; what is over was lost'
        else shown((2 * running.in_hand_bbl)::decimal(18,1)) || ' half-barrel kegs at no loss' end as what
from running
join report.lot_heads as heads using (site, lot)
anti join report.lot_curves as curves on curves.site = running.site and curves.lot = running.lot;
