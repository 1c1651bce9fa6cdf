-- table: result.variances
-- grain: one material of one brew, lot or run in a month
-- key: month, site, brew, lot, run, material (exactly one of brew, lot and run is filled)
-- units: quantity in the stock unit `unit`; money, positive = more was spent than the standard
-- reads: cost.charges, volume.brews, volume.inflows, volume.run_lines, record.recipes, record.package_materials,
--   record.materials, result.material_months, volume.lots
-- rule: C13
-- source: price = (actual - standard price) * actual quantity; usage = (actual - standard quantity for the barrels made) *
--   standard price (Saylor Academy 2012, Managerial Accounting, 10.3). Within a grist, where one malt replaces another,
--   usage = mix + yield: mix at the weights of the recipe, yield by the whole weight. What was put into a lot that only
--   brews filled is theirs by volume; into any other lot it stands under the lot, without a standard. Without a recipe there
--   is no usage. Standard price: the material's, else last month's average cost, else what was paid (no price variance)

create table result.variances (
    month text not null,
    site text not null,
    brew text,
    lot text,
    run text,
    beer text,
    material text not null,
    kind text not null,
    unit text not null,
    actual_qty decimal(18,6) not null,
    standard_qty decimal(18,6),
    actual_price decimal(28,10),
    standard_price decimal(28,10),
    price_from text not null,
    actual_cost decimal(18,6) not null,
    standard_cost decimal(18,6),
    price_variance decimal(18,6) not null,
    usage_variance decimal(18,6),
    mix_variance decimal(18,6),
    yield_variance decimal(18,6),
    unique (month, site, brew, lot, run, material)
);

insert into result.variances by name
with
used as (
    select month, site, brew, lot, run, material, stock_qty, amount
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
),
actual as (
    select month, site, brew, null as lot, run, material, stock_qty as qty, amount as cost
    from used
    where lot is null
    union all by name
    select used.month, used.site, filled.brew, used.material,
        case when filled.brew is null then used.lot end as lot,
        case when filled.lot_bbl > 0 then cost_between(used.stock_qty, from_bbl, to_bbl, lot_bbl) else used.stock_qty end
            as qty,
        case when filled.lot_bbl > 0 then cost_between(used.amount, from_bbl, to_bbl, lot_bbl) else used.amount end
            as cost
    from used
    left join filled on filled.site = used.site and filled.lot = used.lot
    where used.lot is not null
),
recipes as (
    select brews.month, brews.site, brews.brew, recipes.material,
        (recipes.stock_qty_per_bbl::decimal(28,6) * brews.volume_out_bbl::decimal(10,6))::decimal(18,6) as qty
    from volume.brews
    join record.recipes on recipes.beer = brews.beer and coalesce(recipes.from_month, '') <= brews.month
    qualify rank() over (partition by brews.brew, recipes.material order by recipes.from_month desc nulls last) = 1
),
packed as (
    select run_lines.month, run_lines.site, run_lines.run, materials.material,
        (run_lines.filled::decimal(10,0) * materials.stock_qty)::decimal(18,6) as qty
    from volume.run_lines
    join record.package_materials as materials on materials.package = run_lines.package
        and (materials.beer is null or materials.beer = run_lines.beer)
    qualify rank() over (
        partition by run_lines.run, run_lines.line, materials.material order by materials.beer is null
    ) = 1
),
standard as (
    select month, site, brew, null as run, material, qty from recipes
    union all by name
    select month, site, run, material, sum(qty) as qty from packed group by all
),
both_sides as (
    select month, site, brew, lot, run, material, qty as actual_qty, cost as actual_cost, 0 as standard_qty from actual
    union all by name
    select month, site, brew, null as lot, run, material, 0 as actual_qty, 0 as actual_cost, qty as standard_qty
    from standard
),
summed as (
    select month, site, brew, lot, run, material, sum(actual_qty)::decimal(18,6) as actual_qty,
        sum(actual_cost)::decimal(18,6) as actual_cost, sum(standard_qty)::decimal(18,6) as standard_qty
    from both_sides
    group by all
),
run_beers as (
    select run, case when count(distinct beer) = 1 then any_value(beer) end as beer from volume.run_lines group by run
),
priced as (
    select
        summed.* exclude (standard_qty),
        coalesce(brews.beer, lots.beer, run_beers.beer) as beer,
        materials.kind, materials.stock_unit as unit,
        -- What was used late (in a later month than its brew) has its standard in the month of the brew.
        case when summed.brew in (select brew from recipes) or summed.run in (select run from packed)
            then summed.standard_qty end as standard_qty,
        case when summed.actual_qty > 0 then divide10(summed.actual_cost, summed.actual_qty) end as actual_price,
        case when months.opening_qty > 0 then divide10(months.opening_cost, months.opening_qty) end as last_price,
        materials.standard_price as own_price,
        case when materials.kind in ('malt', 'adjunct', 'sugar') then materials.lb_per_stock_unit end as lb_per_unit
    from summed
    join record.materials using (material)
    left join result.material_months as months using (month, site, material)
    left join volume.brews on brews.brew = summed.brew
    left join volume.lots on lots.site = summed.site and lots.lot = summed.lot
    left join run_beers on run_beers.run = summed.run
),
valued as (
    select
        *,
        coalesce(own_price, last_price, actual_price)::decimal(28,10) as standard_price,
        case when own_price is not null then 'material' when last_price is not null then 'last month' else 'as paid' end
            as price_from,
        lb_per_unit is not null and standard_qty is not null as in_grist,
        actual_qty::double * lb_per_unit::double as actual_lb,
        standard_qty::double * lb_per_unit::double as standard_lb
    from priced
),
grists as (
    select *,
        sum(actual_lb) filter (where in_grist) over (partition by month, site, brew) as grist_lb,
        sum(standard_lb) filter (where in_grist) over (partition by month, site, brew) as standard_grist_lb
    from valued
),
costed as (
    select *,
        coalesce(at_price(actual_qty, standard_price), 0) as actual_at_standard,
        coalesce(at_price(standard_qty, standard_price), 0) as standard_cost_or_0,
        -- What the same weight of grist would have held of this material by the recipe.
        case when in_grist and brew is not null and standard_grist_lb > 0
            then at_price(grist_lb * standard_lb / standard_grist_lb / lb_per_unit::double, standard_price) end
            as recipe_share_cost
    from grists
)
select
    month, site, brew, lot, run, beer, material, kind, unit, actual_qty, standard_qty, actual_price, standard_price,
    price_from, actual_cost,
    case when standard_qty is not null then standard_cost_or_0 end as standard_cost,
    case when price_from = 'as paid' then 0 else actual_cost - actual_at_standard end as price_variance,
    case when standard_qty is not null then
        (case when price_from = 'as paid' then actual_cost else actual_at_standard end) - standard_cost_or_0
    end as usage_variance,
    actual_at_standard - recipe_share_cost as mix_variance,
    recipe_share_cost - standard_cost_or_0 as yield_variance
from costed
where actual_qty <> 0 or actual_cost <> 0 or standard_qty <> 0;
