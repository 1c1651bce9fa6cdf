-- table: cost.goods_events
-- grain: one movement of a beer in a package: opening, run line, receipt, restocked return, repack, shipment or count
-- key: item, seq (item: one beer in one package at one site)
-- units: packages; money. A layer made by repacking has no cost here: it is fed (cost.goods_feeds)
-- reads: record.opening_goods, cost.run_costs, record.packaging, record.beer_in, record.returns, cost.repacks, record.shipments,
--   record.counts, cost.restock_prices, record.packages, reference.settings
-- rule: C11, C11a, C16
-- source: order on one day: runs, receipts, restocked returns, repacks, shipments, count; each by its number, then line

create table cost.goods_events (
    item text not null,
    seq bigint not null,
    site text not null,
    beer text not null,
    package text not null,
    date date not null,
    month text not null,
    kind text not null,
    document text not null,
    line bigint not null,
    file text not null,
    sheet text,
    row bigint not null,
    bbl_numerator decimal(28,6) not null,
    bbl_denominator decimal(18,0) not null,
    qty_in decimal(18,6) not null,
    qty_out decimal(18,6) not null,
    counted_qty decimal(18,6),
    cost_in decimal(18,6) not null,
    unit_cost decimal(28,10) not null
);

insert into cost.goods_events by name
with
moved as (
    select opening_goods.site, opening_goods.beer, opening_goods.package, settings.first_day as date,
        'opening' as kind, 0 as day_order, '' as document, row as line, units as qty_in, 0 as qty_out,
        cost as cost_in, file, sheet, row
    from record.opening_goods
    cross join reference.settings
    union all by name
    select costs.site, costs.beer, costs.package, costs.date, 'packaged' as kind, 1 as day_order, costs.run as document,
        costs.line, costs.filled as qty_in, 0 as qty_out, costs.total_cost as cost_in, packaging.file, packaging.sheet,
        packaging.row
    from cost.run_costs as costs
    join record.packaging using (run, line)
    where costs.filled > 0
    union all by name
    select site, beer, package, date, 'received' as kind, 2 as day_order,
        coalesce(document, concat_ws(' ', file, sheet)) as document, row as line, units as qty_in, 0 as qty_out,
        cost as cost_in, file, sheet, row
    from record.beer_in
    where package is not null
    union all by name
    select site, beer, package, date, 'restocked' as kind, 3 as day_order, document, line, units as qty_in,
        0 as qty_out, file, sheet, row
    from record.returns
    where outcome = 'restocked'
    union all by name
    select site, from_beer as beer, from_package as package, date, 'repacked out' as kind, 4 as day_order, document,
        row as line, 0 as qty_in, from_units as qty_out, file, sheet, row
    from cost.repacks
    where not in_ring
    union all by name
    select site, to_beer as beer, to_package as package, date, 'repacked in' as kind, 4 as day_order, document,
        row as line, to_units as qty_in, 0 as qty_out, 0 as cost_in, file, sheet, row
    from cost.repacks
    where not in_ring
    union all by name
    select site, beer, package, date, 'shipped' as kind, 5 as day_order, document, line, 0 as qty_in,
        units as qty_out, file, sheet, row
    from record.shipments
),
-- A count taken later is rolled back to the day it stands for: less what came in between, plus what went out.
counts as (
    select
        counts.site, counts.beer, counts.package, counts.date, 'count' as kind, 6 as day_order,
        concat_ws(' ', counts.file, counts.sheet) as document, counts.row as line, counts.file, counts.sheet, counts.row,
        0 as qty_in, 0 as qty_out,
        greatest(counts.units - coalesce(sum(moved.qty_in - moved.qty_out), 0), 0) as counted_qty
    from record.counts
    left join moved on moved.site = counts.site and moved.beer = counts.beer and moved.package = counts.package
        and moved.date > counts.date and moved.date <= counts.counted_on
    where counts.package is not null
    group by counts.site, counts.beer, counts.package, counts.date, counts.file, counts.sheet, counts.row,
        counts.units
),
events as (
    select * from moved
    union all by name
    select * from counts
),
ordered as (
    select
        *,
        month_of(date) as month,
        site || chr(31) || beer || chr(31) || package as item,
        row_number() over (
            partition by site, beer, package order by date, day_order, document, line, kind, file, sheet nulls first, row
        ) as seq
    from events
),
priced as (
    select
        ordered.*,
        coalesce(restock_prices.unit_cost, 0) as restock_cost,
        -- The unit cost of the layer before: it prices what was shipped and not there.
        coalesce(last_value(
            case
                when ordered.kind = 'restocked' then restock_prices.unit_cost
                when ordered.kind <> 'repacked in' and ordered.qty_in > 0
                    then divide10(ordered.cost_in, ordered.qty_in)
            end ignore nulls
        ) over (partition by ordered.item order by ordered.seq), restock_prices.unit_cost, 0) as last_unit_cost
    from ordered
    asof left join cost.restock_prices on restock_prices.site = ordered.site and restock_prices.beer = ordered.beer
        and restock_prices.package = ordered.package and restock_prices.from_month <= ordered.month
)
select
    priced.item, priced.seq, priced.site, priced.beer, priced.package, priced.date, priced.month, priced.kind,
    priced.document, priced.line, priced.file, priced.sheet, priced.row,
    -- The volume of a package whose record was set aside is not known: its units and cost go on, without barrels.
    coalesce(packages.bbl_numerator, 0) as bbl_numerator, coalesce(packages.bbl_denominator, 1) as bbl_denominator,
    priced.qty_in, priced.qty_out, priced.counted_qty,
    case
        when priced.kind = 'restocked'
            then at_price(priced.qty_in, priced.restock_cost)
        else coalesce(priced.cost_in, 0)
    end as cost_in,
    case when priced.kind = 'count' then priced.restock_cost else priced.last_unit_cost end as unit_cost
from priced
left join record.packages using (package);
