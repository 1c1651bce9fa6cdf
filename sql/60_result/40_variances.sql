-- table: result.variances
-- grain: one material of one brew, lot or run in a month
-- key: month, site, brew, lot, run, material (exactly one of brew, lot and run is filled)
-- units: quantity in the stock unit `unit`; money, positive = more was spent than the standard
-- reads: cost.material_charges, cost.material_standards, volume.brews, volume.run_lines, volume.lots, record.materials,
--   result.material_months
-- rule: C13
-- source: price = (actual - standard price) * actual quantity; usage = (actual - standard quantity for the barrels made) *
--   standard price (Saylor Academy 2012, Managerial Accounting, 10.3). Within a grist, where one malt replaces another,
--   usage = mix + yield: mix at the weights of the recipe, yield by the whole weight. Without a recipe there
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
both_sides as (
    select month, site, brew, lot, run, material, qty as actual_qty, cost as actual_cost, 0 as standard_qty
    from cost.material_charges
    union all by name
    select month, site, brew, null as lot, run, material, 0 as actual_qty, 0 as actual_cost, qty as standard_qty
    from cost.material_standards
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
        case when summed.brew in (select brew from cost.material_standards)
                or summed.run in (select run from cost.material_standards)
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
