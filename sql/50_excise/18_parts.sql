-- table: excise.parts
-- grain: the part of a shipment that is not the brewery's own beer in kegs of their size
-- key: document, line, brewed_by, each_bbl
-- units: units of the package; each_bbl is what one holds where it is overfilled
-- reads: excise.watched_walk, excise.watched_layers, excise.marked_layers, excise.goods_passed_on
-- rule: X1, X5
-- source: 27 CFR 25.156(b); 26 U.S.C. 5051(a): beer received in bond that another brewed, followed by first in, first out

create table excise.parts (
    document text not null,
    line bigint not null,
    brewed_by text not null,
    each_bbl decimal(18,6),
    units bigint not null
);

insert into excise.parts by name
with recursive
-- Every taking in pieces of one layer each, and where in the taking a piece lies.
pieces as (
    select item, layer, seq, from_qty, to_qty,
        sum(to_qty - from_qty) over (partition by item, seq order by layer) - (to_qty - from_qty) as pos
    from stock_takings('excise.watched_walk', 'excise.watched_layers', 'fifo')
),
-- The marked stretch of each layer: its own, and what came into it from marked stretches. What is filled over holds what it
-- holds until it is repacked.
stretches as (
    select marked.item, marked.layer, 0::double as from_qty, layers.layer_qty::double as to_qty, marked.brewed_by,
        marked.each_bbl
    from excise.marked_layers as marked
    join excise.watched_layers as layers on layers.item = marked.item and layers.layer = marked.layer
    union
    select item, layer, from_qty, to_qty, brewed_by, each_bbl
    from (
        select passed.to_item as item, passed.to_layer as layer, stretches.brewed_by,
            case when passed.same_packages then stretches.each_bbl end as each_bbl,
            greatest(pieces.pos + greatest(stretches.from_qty - pieces.from_qty, 0) - passed.from_pos, 0)
                * passed.to_units::double / passed.from_units::double as from_qty,
            least(pieces.pos + least(stretches.to_qty, pieces.to_qty) - pieces.from_qty - passed.from_pos, passed.from_units)
                * passed.to_units::double / passed.from_units::double as to_qty
        from stretches
        join pieces
            on pieces.item = stretches.item and pieces.layer = stretches.layer
            and pieces.from_qty < stretches.to_qty and pieces.to_qty > stretches.from_qty
        join excise.goods_passed_on as passed on passed.from_item = pieces.item and passed.from_seq = pieces.seq
    )
    where from_qty < to_qty and (brewed_by = 'other' or each_bbl is not null)
)
select
    walk.document, walk.line, stretches.brewed_by, stretches.each_bbl,
    round(sum(
        least(pieces.to_qty, stretches.to_qty) - greatest(pieces.from_qty, stretches.from_qty)
    ))::bigint as units
from stretches
join pieces
    on pieces.item = stretches.item and pieces.layer = stretches.layer
    and pieces.from_qty < stretches.to_qty and pieces.to_qty > stretches.from_qty
join excise.watched_walk as walk on walk.item = pieces.item and walk.seq = pieces.seq and walk.kind = 'shipped'
group by all
having round(sum(
    least(pieces.to_qty, stretches.to_qty) - greatest(pieces.from_qty, stretches.from_qty)
)) > 0;
