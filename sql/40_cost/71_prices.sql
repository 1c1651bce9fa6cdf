-- table: cost.prices
-- grain: one shipment line or serving-tank fill with the price it was sold at
-- key: kind, document, line
-- units: money per package (per bbl for a serving tank); null where no price is known
-- reads: record.shipments, record.prices, record.accounts, volume.moves
-- rule: M1
-- source: the price on the line; else the latest prices row for the account, for its kind, for all, in that order

create table cost.prices (
    kind text not null,
    document text not null,
    line bigint not null,
    unit_price decimal(18,6),
    revenue decimal(18,6)
);

insert into cost.prices by name
with
lines as (
    select shipments.*, accounts.kind as account_kind
    from record.shipments
    left join record.accounts using (account)
),
open as (
    select * from lines where unit_price is null
),
for_account as (
    select lines.document, lines.line, prices.unit_price
    from open as lines
    asof join (select * from record.prices where account is not null) as prices
        on prices.account = lines.account and prices.beer = lines.beer and prices.package = lines.package
        and prices.from_date <= lines.date
),
for_kind as (
    select lines.document, lines.line, prices.unit_price
    from open as lines
    asof join (select * from record.prices where account is null and account_kind is not null) as prices
        on prices.account_kind = lines.account_kind and prices.beer = lines.beer
        and prices.package = lines.package and prices.from_date <= lines.date
),
for_all as (
    select lines.document, lines.line, prices.unit_price
    from open as lines
    asof join (select * from record.prices where account is null and account_kind is null) as prices
        on prices.beer = lines.beer and prices.package = lines.package and prices.from_date <= lines.date
),
priced as (
    select 'shipment' as kind, lines.document, lines.line, lines.units,
        coalesce(lines.unit_price, for_account.unit_price, for_kind.unit_price, for_all.unit_price) as unit_price
    from lines
    left join for_account using (document, line)
    left join for_kind using (document, line)
    left join for_all using (document, line)
)
select kind, document, line, unit_price, (units * unit_price)::decimal(18,6) as revenue
from priced
union all by name
select 'serving_tank' as kind, move as document, 1 as line, unit_price,
    at_price(volume_out_bbl, unit_price) as revenue
from volume.moves
where reason = 'serving_tank';
