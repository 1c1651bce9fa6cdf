-- table: report.operation_parts
-- grain: one figure beside the barrels of beer that a report of operations asks for
-- key: month, site, part, place, text
-- units: quantity in unit, amount in the currency of the return
-- reads: report.months, excise.production_points, excise.operation_entries, result.material_months, record.materials,
--   record.brews, record.beers, excise.return_records
-- rule: X8, X9
-- source: TTB F 5130.26 of 2010: tax payments, materials and wort; of F 5130.9 the parts after the first were not read; from
--   memory it asks for cereal beverage as well

create table report.operation_parts (
    month text not null,
    site text not null,
    part text not null,
    place bigint not null,
    text text not null,
    quantity decimal(18,6),
    unit text,
    amount decimal(18,6)
);

insert into report.operation_parts by name
with
payments as (
    select month_of(date) as month, site, 'tax paid' as part,
        row_number() over (order by date, period, file, sheet nulls first, row) as place,
        date || ', for ' || period as text, amount
    from excise.return_records
    where area = 'US' and kind = 'payment'
),
-- Nothing stays in racking and bottling overnight: what went in and is not in packages was lost there.
cereal_days as (
    select site, date,
        sum(bbl) filter (where form_line = 1) as opened,
        sum(bbl) filter (where form_line in (2, 3)) as produced,
        sum(bbl) filter (where form_line in (5, 7, 8, 12)) as received,
        sum(bbl) filter (where form_line = 11) as over,
        sum(bbl) filter (where form_line between 14 and 21 or form_line = 29) as removed,
        sum(bbl) filter (where form_line in (27, 28)) as destroyed,
        coalesce(sum(bbl) filter (where form_line in (30, 31, 32)), 0)
            + coalesce(sum(case when form_line = 6 then bbl when form_line in (25, 26) then -bbl end), 0) as lost
    from excise.operation_entries
    where tax_class = 'cereal_beverage'
    group by site, date
),
cereal_months as (
    select months.month, months.first_day, days.site,
        coalesce(sum(days.produced), 0) as produced, coalesce(sum(days.received), 0) as received,
        coalesce(sum(days.over), 0) as over, coalesce(sum(days.removed), 0) as removed,
        coalesce(sum(days.destroyed), 0) as destroyed, coalesce(sum(days.lost), 0) as lost,
        coalesce(sum(days.opened), 0) as opened
    from report.months as months
    join cereal_days as days on days.date between months.first_day and months.last_day
    group by months.month, months.first_day, days.site
),
cereal_stock as (
    select months.month, months.first_day, sites.site, coalesce(moved.produced, 0) as produced,
        coalesce(moved.received, 0) as received, coalesce(moved.over, 0) as over, coalesce(moved.removed, 0) as removed,
        coalesce(moved.destroyed, 0) as destroyed, coalesce(moved.lost, 0) as lost,
        sum(coalesce(
            moved.opened + moved.produced + moved.received + moved.over - moved.removed - moved.destroyed - moved.lost, 0
        )) over (partition by sites.site order by months.first_day) as closing
    from report.months as months
    cross join (select distinct site from cereal_days) as sites
    left join cereal_months as moved on moved.month = months.month and moved.site = sites.site
),
cereal as (
    select month, site, 'cereal beverage' as part, 'bbl' as unit, unnest([
        {place: 1, text: 'on hand at the beginning',
            quantity: closing - produced - received - over + removed + destroyed + lost},
        {place: 2, text: 'produced, with liquids added', quantity: produced},
        {place: 3, text: 'received and returned', quantity: received},
        {place: 4, text: 'found at the count', quantity: over},
        {place: 5, text: 'removed', quantity: removed},
        {place: 6, text: 'samples, destroyed', quantity: destroyed},
        {place: 7, text: 'lost, short at the count, repacked', quantity: lost},
        {place: 8, text: 'on hand at the end', quantity: closing}
    ], recursive := true)
    from cereal_stock
),
materials as (
    select stock.month, stock.site, 'materials' as part, 'lb' as unit,
        case materials.kind when 'malt' then 1 when 'adjunct' then 2 when 'sugar' then 3 else 4 end as kind_place,
        materials.kind, sum(stock.opening_qty * materials.lb_per_stock_unit) as opening,
        sum(stock.received_qty * materials.lb_per_stock_unit) as received,
        sum(stock.closing_qty * materials.lb_per_stock_unit) as closing
    from result.material_months as stock
    join record.materials as materials on materials.material = stock.material
    where materials.kind in ('malt', 'adjunct', 'sugar', 'hops') and materials.lb_per_stock_unit is not null
    group by all
),
material_lines as (
    select month, site, part, unit, unnest([
        {place: kind_place * 10 + 1, text: kind || ', on hand at the beginning', quantity: opening},
        {place: kind_place * 10 + 2, text: kind || ', received', quantity: received},
        {place: kind_place * 10 + 3, text: kind || ', used, sold or written off', quantity: opening + received - closing},
        {place: kind_place * 10 + 4, text: kind || ', on hand at the end', quantity: closing}
    ], recursive := true)
    from materials
),
wort as (
    select month_of(brews.date) as month, brews.site, 'materials' as part, 90 as place,
        'wort produced, into the fermenter' as text, sum(brews.into_fermenter_bbl) as quantity, 'bbl' as unit
    from record.brews as brews
    join record.beers as beers on beers.beer = brews.beer and beers.tax_class in ('beer', 'cereal_beverage')
    group by all
),
lines as (
    select * from payments
    union all by name
    select * from cereal
    union all by name
    select * from material_lines
    union all by name
    select * from wort
)
select lines.month, lines.site, lines.part, lines.place, lines.text, round(lines.quantity, 2) as quantity, lines.unit,
    lines.amount
from lines
semi join excise.production_points as points on points.site = lines.site;
