-- table: excise.marked_layers
-- grain: one inflow of packaged beer that is not the brewery's own beer in kegs of their size
-- key: item, layer
-- units: each_bbl is what one package holds where it is overfilled
-- reads: cost.goods_events, record.packaging, record.beer_in, record.moves, record.brews, excise.packages, reference.areas, reference.sites
-- rule: X1, X5
-- source: 27 CFR 25.156(b); 26 U.S.C. 5051(a)

create table excise.marked_layers (
    item text not null,
    layer bigint not null,
    brewed_by text not null,
    each_bbl decimal(18,6)
);

insert into excise.marked_layers by name
-- A lot holds another's beer when such beer came into it, straight or from such a lot, and no brew did: racking and
-- filling do not make beer one's own; brewing into the lot does.
with recursive foreign_lots as (
    select site, lot
    from record.beer_in
    where lot is not null and brewed_by = 'other'
    union
    select moves.site, moves.to_lot as lot
    from foreign_lots
    join record.moves as moves on moves.site = foreign_lots.site and moves.from_lot = foreign_lots.lot
    where moves.to_lot is not null
),
others as (
    select site, lot
    from foreign_lots
    anti join record.brews as brews on brews.site = foreign_lots.site and brews.lot = foreign_lots.lot
),
marked as (
    select events.item, events.seq as layer, case when others.lot is null then 'us' else 'other' end as brewed_by,
        case
            when packages.form = 'keg' and packaging.average_fill_bbl::decimal(28,10) * packages.bbl_denominator
                * packages.containers * 100 > packages.bbl_numerator * (100 + nation.keg_overfill_pct)
                then packaging.average_fill_bbl * packages.containers
        end::decimal(18,6) as each_bbl
    from cost.goods_events as events
    join record.packaging as packaging on packaging.run = events.document and packaging.line = events.line
    join excise.packages as packages on packages.package = events.package
    join reference.sites as sites on sites.site = events.site
    left join reference.areas as nation on nation.area = country_of(sites.area)
    left join others on others.site = packaging.site and others.lot = packaging.lot
    where events.kind = 'packaged'
    union all by name
    select events.item, events.seq as layer, beer_in.brewed_by
    from cost.goods_events as events
    join record.beer_in as beer_in
        on beer_in.file = events.file and beer_in.sheet is not distinct from events.sheet and beer_in.row = events.row
    where events.kind = 'received'
)
select item, layer, brewed_by, each_bbl
from marked
where brewed_by = 'other' or each_bbl is not null;
