-- table: result.margin_bridge
-- grain: one beer, package and account in a month, against the month before
-- key: month, beer, package, account
-- units: money; a step is positive where it adds to the margin. before + the eleven steps = margin
-- reads: result.margins, result.margin_parts, record.months, reference.settings
-- rule: M5
-- source: one step after the other, quantities before prices. volume: the change in barrels at last month's average margin
--   per barrel; mix: each line's barrels of this month at last month's own figures, less last month's margin, less volume;
--   then what each figure per barrel changed at this month's barrels: price, costs, duty, freight. A line that is new has no
--   figures of last month and stands in the mix whole. yield: last month's ingredients per barrel that left the kettle, at
--   the change in kettle barrels to one packaged; other_stock: what the elements of cost do not explain, because goods of
--   opening stock, goods bought and goods taken back have none

create table result.margin_bridge (
    month text not null,
    beer text,
    package text,
    account text,
    before decimal(18,6),
    volume decimal(18,6),
    mix decimal(18,6),
    price decimal(18,6),
    ingredients decimal(18,6),
    packaging decimal(18,6),
    yield decimal(18,6),
    conversion decimal(18,6),
    other_stock decimal(18,6),
    duty decimal(18,6),
    freight decimal(18,6),
    margin decimal(18,6)
);

insert into result.margin_bridge by name
with
sold as (
    select month, beer, package, account, sum(bbl) as bbl,
        case when count(revenue) = count(*) then sum(revenue) end as revenue,
        sum(cost_of_goods_sold) as cost, sum(duty) as duty, sum(freight) as freight,
        case when count(margin) = count(*) then sum(margin) end as margin
    from result.margins
    group by month, beer, package, account
),
lines as (
    select sold.*, parts.ingredients, parts.packaging, parts.labour + parts.overhead as conversion,
        parts.kettle_bbl, parts.packaged_bbl
    from sold
    left join result.margin_parts as parts on parts.month = sold.month
        and parts.beer is not distinct from sold.beer and parts.package is not distinct from sold.package
        and parts.account is not distinct from sold.account
),
months as (
    select month, lag(month) over (order by month) as month_before from record.months
),
named as (
    select months.month, lines.beer, lines.package, lines.account
    from months
    join lines on lines.month in (months.month, months.month_before)
    where months.month_before is not null
    group by all
),
totals as (
    select month, sum(bbl) as bbl, case when count(margin) = count(*) then sum(margin) end as margin
    from lines
    group by month
),
pairs as (
    select
        named.month, named.beer, named.package, named.account,
        coalesce(now.bbl, 0) as bbl_1, coalesce(ago.bbl, 0) as bbl_0,
        case when now.month is null then 0 else now.revenue end as revenue_1,
        case when ago.month is null then 0 else ago.revenue end as revenue_0,
        coalesce(now.cost, 0) as cost_1, coalesce(ago.cost, 0) as cost_0,
        coalesce(now.duty, 0) as duty_1, coalesce(ago.duty, 0) as duty_0,
        coalesce(now.freight, 0) as freight_1, coalesce(ago.freight, 0) as freight_0,
        case when now.month is null then 0 else now.margin end as margin_1,
        case when ago.month is null then 0 else ago.margin end as margin_0,
        now.ingredients as ingredients_1, ago.ingredients as ingredients_0,
        now.packaging as packaging_1, ago.packaging as packaging_0,
        now.conversion as conversion_1, ago.conversion as conversion_0,
        now.kettle_bbl as kettle_1, ago.kettle_bbl as kettle_0,
        now.packaged_bbl as packaged_1, ago.packaged_bbl as packaged_0,
        totals.bbl as all_bbl_0, totals.margin as all_margin_0
    from named
    join months on months.month = named.month
    left join lines as now on now.month = named.month and now.beer is not distinct from named.beer
        and now.package is not distinct from named.package and now.account is not distinct from named.account
    left join lines as ago on ago.month = months.month_before and ago.beer is not distinct from named.beer
        and ago.package is not distinct from named.package and ago.account is not distinct from named.account
    left join totals on totals.month = months.month_before
),
kinds as (
    select *,
        case
            when bbl_0 > 0 and bbl_1 > 0 then 'both'
            when bbl_1 > 0 then 'new'
            when bbl_0 > 0 then 'gone'
            else 'money only'
        end as kind,
        coalesce(bbl_0 > 0 and bbl_1 > 0 and kettle_0 > 0 and kettle_1 > 0 and packaged_0 > 0 and packaged_1 > 0, false)
            as has_elements
    from pairs
),
-- Last month's figures at this month's barrels.
flexed as (
    select *,
        case kind when 'both' then part6(revenue_0, bbl_1, bbl_0) when 'new' then revenue_1 when 'gone' then 0
            else revenue_0 end as revenue_f,
        case kind when 'both' then part6(cost_0, bbl_1, bbl_0) when 'new' then cost_1 when 'gone' then 0
            else cost_0 end as cost_f,
        case kind when 'both' then part6(duty_0, bbl_1, bbl_0) when 'new' then duty_1 when 'gone' then 0
            else duty_0 end as duty_f,
        case kind when 'both' then part6(freight_0, bbl_1, bbl_0) when 'new' then freight_1 when 'gone' then 0
            else freight_0 end as freight_f,
        case when all_bbl_0 > 0 then part6(all_margin_0, bbl_1 - bbl_0, all_bbl_0) else 0 end as volume,
        case when has_elements then part6(ingredients_0, packaged_1, packaged_0) else 0 end as ingredients_f,
        case when has_elements then part6(ingredients_0, kettle_1, kettle_0) else 0 end as ingredients_y,
        case when has_elements then part6(packaging_0, packaged_1, packaged_0) else 0 end as packaging_f,
        case when has_elements then part6(conversion_0, packaged_1, packaged_0) else 0 end as conversion_f
    from kinds
),
steps as (
    select *,
        revenue_f - cost_f - duty_f - freight_f - margin_0 - volume as mix,
        revenue_1 - revenue_f as price,
        case when has_elements then ingredients_y - ingredients_1 else 0 end as ingredients,
        case when has_elements then packaging_f - packaging_1 else 0 end as packaging,
        case when has_elements then ingredients_f - ingredients_y else 0 end as yield,
        case when has_elements then conversion_f - conversion_1 else 0 end as conversion,
        duty_f - duty_1 as duty,
        freight_f - freight_1 as freight
    from flexed
)
select month, beer, package, account, margin_0 as before, volume, mix, price, ingredients, packaging, yield, conversion,
    cost_f - cost_1 - ingredients - packaging - yield - conversion as other_stock, duty, freight, margin_1 as margin
from steps;
