-- table: excise.goods_passed_on
-- grain: one taking of packages that come in again: repacked, or shipped and put back into stock
-- key: to_item, to_layer
-- units: packages: from_pos of the taking on, from_units of it became to_units
-- reads: cost.goods_events, record.returns
-- rule: X5
-- source: beer received in bond is followed first in, first out; what comes back is taken off its shipment from the start

create table excise.goods_passed_on (
    from_item text not null,
    from_seq bigint not null,
    from_pos decimal(18,6) not null,
    from_units decimal(18,6) not null,
    to_item text not null,
    to_layer bigint not null,
    to_units decimal(18,6) not null,
    same_packages boolean not null
);

insert into excise.goods_passed_on by name
with back as (
    select document, line, lower(original_document) as original_document, lower(beer) as beer, lower(package) as package
    from record.returns
    where outcome = 'restocked' and original_document is not null
),
shipped as (
    select lower(document) as document, lower(beer) as beer, lower(package) as package, arg_min(item, line) as item,
        arg_min(seq, line) as seq, arg_min(date, line) as date, arg_min(qty_out, line) as units
    from cost.goods_events
    where kind = 'shipped' and lower(document) in (select original_document from back)
    group by all
),
restocked as (
    select shipped.item as from_item, shipped.seq as from_seq, shipped.units, events.item as to_item, events.seq as to_layer,
        events.qty_in as to_units,
        sum(events.qty_in) over (
            partition by shipped.item, shipped.seq order by events.date, events.document, events.line, events.item
        ) - events.qty_in as from_pos
    from cost.goods_events as events
    join back on back.document = events.document and back.line = events.line
    join shipped
        on shipped.document = back.original_document and shipped.beer = back.beer and shipped.package = back.package
        and shipped.date <= events.date
    where events.kind = 'restocked'
)
select from_item, from_seq, from_pos, to_units as from_units, to_item, to_layer, to_units, true as same_packages
from restocked
where from_pos < units
union all by name
select taken.item as from_item, taken.seq as from_seq, 0 as from_pos, taken.qty_out as from_units, made.item as to_item,
    made.seq as to_layer, made.qty_in as to_units, false as same_packages
from cost.goods_events as taken
join cost.goods_events as made
    on made.kind = 'repacked in' and made.file = taken.file and made.sheet is not distinct from taken.sheet
    and made.row = taken.row
where taken.kind = 'repacked out' and taken.qty_out > 0 and made.qty_in > 0;
