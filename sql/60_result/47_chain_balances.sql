-- table: result.chain_balances
-- grain: one balance of a chain, with the loss that is usual in it
-- key: site, balance (also: number)
-- units: bbl. usual_bbl, give or take spread_bbl: of a lot, since it was filled; follows: the balance of the same lot before it
-- reads: result.chain_readings, result.chain_entries, result.usual_losses, volume.lots
-- rule: V1 to V4, V6
-- source: the usual loss is a quantity of its own in each balance, so that it is no gross error. On the way anything between none
--   and all of it has settled: half of it, give or take half

create table result.chain_balances (
    number bigint not null,
    site text not null,
    lot text not null,
    balance text not null,
    follows bigint,
    usual_bbl decimal(18,6) not null,
    spread_bbl decimal(18,6) not null
);

insert into result.chain_balances by name
with
wholes as (
    select entries.site, entries.lot, entries.balance, entries.stage, entries.event, entries.until,
        max(readings.beer) filter (where entries.event is not null) as event_beer,
        -- What a dip found came in before.
        coalesce(sum(readings.volume_bbl) filter (
            where entries.sign = 1 and coalesce(readings.event_sign, readings.lot_sign) is not null), 0)::double as in_bbl
    from result.chain_entries as entries
    join result.chain_readings as readings using (number)
    group by all
),
-- A lot's balances follow one another; that of an event stands by itself.
numbered as (
    select *, row_number() over (order by site, balance) as number, sum(in_bbl) over so_far as so_far_bbl
    from wholes
    window so_far as (partition by site, lot, event order by until nulls last)
),
usual as (
    select number, numbered.site, numbered.lot, balance, until, so_far_bbl / 100 as hundredth_bbl,
        lag(number) over (partition by numbered.site, numbered.lot, event order by until nulls last) as follows,
        coalesce(own.usual_pct, every.usual_pct, lots.allowed_pct)::double as usual_pct,
        coalesce(own.spread_pct, every.spread_pct, lots.allowed_pct / 2)::double as spread_pct
    from numbered
    join volume.lots using (site, lot)
    left join result.usual_losses as own on own.site = numbered.site and own.stage = numbered.stage
        and own.beer = coalesce(event_beer, lots.beer)
    left join result.usual_losses as every on every.site = numbered.site and every.stage = numbered.stage
        and every.beer is null
)
select number, site, lot, balance, follows,
    hundredth_bbl * usual_pct * if(until is null, 1, 0.5) as usual_bbl,
    greatest(hundredth_bbl * if(until is null, spread_pct, sqrt(spread_pct ** 2 + usual_pct ** 2 / 4)), 0.01) as spread_bbl
from usual;
