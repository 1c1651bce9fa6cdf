-- table: cost.lot_arrivals
-- grain: one cost that joins a lot on a day from outside the cellar
-- key: none (several may come on one day)
-- units: money
-- reads: cost.lot_nodes, cost.brew_costs, volume.brews, record.opening_lots, record.beer_in, volume.left_out,
--   cost.charges, cost.pool_shares, volume.lot_months
-- rule: C2, C3, C7, C8
-- source: calculation rule C8

create table cost.lot_arrivals (
    node bigint not null,
    source text not null,
    name text not null,
    element text not null,
    amount decimal(18,6) not null
);

insert into cost.lot_arrivals by name
with
opening as (
    unpivot (
        select site, lot, cost_ingredients as ingredients, cost_labour as labour, cost_overhead as overhead
        from record.opening_lots
    ) on ingredients, labour, overhead into name element value amount
),
arrivals as (
    select opening.site, opening.lot, settings.first_day as date, 'opening' as source, opening.lot as name,
        opening.element, opening.amount
    from opening
    cross join reference.settings
    union all by name
    select brews.site, brews.lot, brews.date, 'brew' as source, brew_costs.brew as name, brew_costs.element,
        brew_costs.good_cost as amount
    from cost.brew_costs
    join volume.brews using (brew)
    union all by name
    select site, lot, date, 'received' as source, place_of(file, sheet, row) as name,
        'ingredients' as element, cost as amount
    from record.beer_in
    anti join (select * from volume.left_out where kind = 'beer_in') as left_out
        on left_out.file = beer_in.file and left_out.sheet is not distinct from beer_in.sheet
        and left_out.row = beer_in.row
    where lot is not null
    union all by name
    select site, lot, date, source, place_of(file, sheet, row) as name, element, amount
    from cost.charges
    where charged and lot is not null
    union all by name
    select pool_shares.site, pool_shares.lot, lot_months.from_day as date, 'pool' as source,
        pool_shares.pool as name, pool_shares.element, pool_shares.amount
    from cost.pool_shares
    join volume.lot_months using (site, lot, month)
)
select lot_nodes.node, arrivals.source, arrivals.name, arrivals.element, arrivals.amount
from arrivals
join cost.lot_nodes using (site, lot, date);
