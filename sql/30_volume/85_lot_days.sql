-- table: volume.lot_days
-- grain: one lot on one day on which something flows in or out, or on which it is emptied
-- key: site, lot, date
-- units: bbl
-- reads: volume.lots, volume.inflows, volume.draws, volume.lot_hops
-- rule: C8, V10
-- source: expected good volume E = inflows less their allowance and that of the hops up to this day, less what was drawn before this day, not below 0

create table volume.lot_days (
    site text not null,
    lot text not null,
    date date not null,
    in_bbl decimal(18,6) not null,
    drawn_bbl decimal(18,6) not null,
    in_hand_bbl decimal(18,6) not null,
    expected_bbl decimal(18,6) not null,
    reading_error_bbl decimal(18,6) not null,
    emptied boolean not null
);

insert into volume.lot_days by name
with
flows as (
    select site, lot, date, volume_bbl as in_bbl, 0::decimal(18,6) as drawn_bbl,
        case when source <> 'added' then 1 else 0 end as readings
    from volume.inflows
    union all by name
    select site, lot, date, 0::decimal(18,6) as in_bbl, volume_bbl as drawn_bbl, 1 as readings
    from volume.draws
    union all by name
    select site, lot, emptied_on as date, 0::decimal(18,6) as in_bbl, 0::decimal(18,6) as drawn_bbl, 0 as readings
    from volume.lots
    where emptied_on is not null
),
days as (
    select site, lot, date, sum(in_bbl)::decimal(18,6) as in_bbl, sum(drawn_bbl)::decimal(18,6) as drawn_bbl,
        sum(readings) as readings
    from flows
    group by site, lot, date
),
running as (
    select
        days.*,
        lots.allowed_pct,
        lots.tolerance_bbl,
        lots.emptied_on is not distinct from days.date as emptied,
        sum(days.in_bbl) over so_far as in_so_far,
        sum(days.drawn_bbl) over so_far as drawn_so_far,
        sum(days.readings) over so_far as readings_so_far,
        coalesce(hops.allowed_so_far_bbl, 0) as hop_allowed_bbl
    from days
    join volume.lots using (site, lot)
    asof left join volume.lot_hops as hops on hops.site = days.site and hops.lot = days.lot and days.date >= hops.date
    window so_far as (partition by days.site, days.lot order by days.date)
)
select
    site,
    lot,
    date,
    in_bbl,
    drawn_bbl,
    in_so_far - drawn_so_far as in_hand_bbl,
    -- What is expected to come out good, before this day's draws.
    greatest(in_so_far - part6(in_so_far, allowed_pct, 100) - hop_allowed_bbl - (drawn_so_far - drawn_bbl), 0) as expected_bbl,
    rounded6(sqrt(readings_so_far) * tolerance_bbl::double) as reading_error_bbl,
    emptied
from running;
