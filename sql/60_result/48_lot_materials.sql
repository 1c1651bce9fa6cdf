-- table: result.lot_materials
-- grain: one material put into a lot, or into a brew that fills it, as written or by the recipe
-- key: none
-- units: quantity in the material's stock unit; generation: how often yeast had been cropped and pitched again
-- reads: record.uses, record.materials, record.brews, volume.lots
-- rule: C2
-- source: records

create table result.lot_materials (
    month text not null,
    date date not null,
    site text not null,
    lot text not null,
    beer text,
    brew text,
    material text not null,
    kind text not null,
    quantity decimal(18,6) not null,
    unit text not null,
    supplier_lot text,
    generation bigint,
    from_recipe boolean not null
);

insert into result.lot_materials by name
select month_of(uses.date) as month, uses.date, uses.site, lots.lot, lots.beer, uses.brew, uses.material, materials.kind,
    uses.stock_qty as quantity, materials.stock_unit as unit, uses.supplier_lot,
    case when materials.kind = 'yeast' then uses.generation end as generation, uses.from_recipe
from record.uses
join record.materials using (material)
left join record.brews using (brew)
join volume.lots on lots.site = uses.site and lots.lot = coalesce(uses.lot, brews.lot);
