-- table: cost.material_charges
-- grain: one use of a material by the brew, lot or run it is held against
-- key: item, seq, brew, lot, run
-- units: the material's stock unit; money
-- reads: cost.charges, volume.inflows
-- rule: C13
-- source: what was put into a lot that only brews filled is theirs by volume; into any other lot it stands under the lot

create table cost.material_charges (
    month text not null,
    site text not null,
    brew text,
    lot text,
    run text,
    material text not null,
    qty decimal(18,6) not null,
    cost decimal(18,6) not null,
    item text not null,
    seq bigint not null,
    file text not null,
    sheet text,
    row bigint not null
);

insert into cost.material_charges by name
with
used as (
    select month, site, brew, lot, run, material, stock_qty, amount, item, seq, file, sheet, row
    from cost.charges
    where source = 'use' and charged
),
-- Lots that nothing but brews filled, each brew with where its wort lies along the lot's volume.
filled as (
    select site, lot, name as brew,
        sum(volume_bbl) over up_to_brew - volume_bbl as from_bbl,
        sum(volume_bbl) over up_to_brew as to_bbl,
        sum(volume_bbl) over (partition by site, lot) as lot_bbl
    from volume.inflows
    where source = 'brew' and not exists (
        from volume.inflows as others
        where others.site = inflows.site and others.lot = inflows.lot and others.source not in ('brew', 'added')
    )
    window up_to_brew as (partition by site, lot order by date, name)
)
select used.* exclude (stock_qty, amount), stock_qty as qty, amount as cost
from used
where lot is null
union all by name
select used.* exclude (brew, lot, stock_qty, amount), filled.brew,
    case when filled.brew is null then used.lot end as lot,
    case when filled.lot_bbl > 0 then cost_between(used.stock_qty, from_bbl, to_bbl, lot_bbl) else used.stock_qty end as qty,
    case when filled.lot_bbl > 0 then cost_between(used.amount, from_bbl, to_bbl, lot_bbl) else used.amount end as cost
from used
left join filled on filled.site = used.site and filled.lot = used.lot
where used.lot is not null;
