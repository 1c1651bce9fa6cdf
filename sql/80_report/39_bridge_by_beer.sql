-- table: report.bridge_by_beer
-- grain: one beer of one month against the month before
-- key: month, beer
-- units: the books' currency
-- reads: result.margin_bridge
-- rule: M5
-- source: none; presentation

create table report.bridge_by_beer (
    month text not null,
    beer text not null,
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
    margin decimal(18,6),
    change decimal(18,6),
    size decimal(18,6),
    most text,
    primary key (month, beer)
);

insert into report.bridge_by_beer by name
with
beers as (
    select month, coalesce(beer, 'not stated') as beer, whole_sum(before) as before, whole_sum(volume) as volume,
        whole_sum(mix) as mix, whole_sum(price) as price, sum(ingredients) as ingredients, sum(packaging) as packaging,
        sum(yield) as yield, sum(conversion) as conversion, sum(other_stock) as other_stock, sum(duty) as duty,
        sum(freight) as freight, whole_sum(margin) as margin
    from result.margin_bridge
    group by month, coalesce(beer, 'not stated')
),
steps as (
    unpivot beers on volume, mix, price, ingredients, packaging, yield, conversion, other_stock, duty, freight
    into name step value amount
),
largest as (
    select month, beer, replace(arg_max(step, (abs(amount), step)), '_', ' ') as most
    from steps
    where amount <> 0
    group by month, beer
)
select beers.*, beers.margin - beers.before as change, abs(beers.margin - beers.before) as size, largest.most
from beers
left join largest using (month, beer);
