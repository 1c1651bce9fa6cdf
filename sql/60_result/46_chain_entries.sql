-- table: result.chain_entries
-- grain: one reading in one balance of its chain
-- key: site, balance, number
-- units: sign +1 where the reading goes into the balance, -1 where it comes out
-- reads: volume.lots, result.chain_readings
-- rule: V1 to V4
-- source: brews, moves and runs: near end - far end - usual loss = 0. A lot is cut at its dips: what the last dip found + what came
--   in - what left - usual loss = what this dip finds, or nothing at the end. By differences a long-lived lot's balances stay short

create table result.chain_entries (
    site text not null,
    lot text not null,
    balance text not null,
    stage text not null,
    event text,
    until timestamp,
    number bigint not null,
    sign bigint not null
);

insert into result.chain_entries by name
with
dips as (
    select site, lot, seen_at, number, lead(seen_at) over (partition by site, lot order by seen_at) as next_dip
    from result.chain_readings
    where event_sign is null and lot_sign is null
),
flows as (
    select site, lot, number, lot_sign as sign, seen_at
    from result.chain_readings
    where lot_sign is not null
    union all by name
    select site, other_lot as lot, number, 1 as sign, date::timestamp as seen_at
    from result.chain_readings
    where event is null and other_lot is not null
),
stretches as (
    select flows.site, flows.lot, dips.seen_at as until, flows.number, flows.sign
    from flows
    asof left join dips on dips.site = flows.site and dips.lot = flows.lot and dips.seen_at >= flows.seen_at
    union all by name
    select site, lot, seen_at as until, number, -1 as sign
    from dips
    union all by name
    select site, lot, next_dip as until, number, 1 as sign
    from dips
),
ends as (
    select number, site, event, stage, event_sign, if(stage = 'transfer' and event_sign = -1, other_lot, lot) as lot
    from result.chain_readings
    where event is not null
)
select site, lot, stage || ', ' || event as balance, stage, event, number, event_sign as sign
from ends
union all by name
select site, lot, 'lot ' || lot || coalesce(' until ' || until, '') as balance, lots.stage, until, number, sign
from stretches
join volume.lots using (site, lot)
where until is not null or lots.emptied_on is not null;
