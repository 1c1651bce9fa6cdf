-- table: report.bridge_steps
-- grain: one step of the bridge from last month's margin to this month's
-- key: month, place
-- units: the books' currency; steps 2 to 11 add what lies between the first and the last row, to the last digit
-- reads: result.margin_bridge
-- rule: M5
-- source: none; presentation. Blank where a price of either month is missing

create table report.bridge_steps (
    month text not null,
    place bigint not null,
    step text not null,
    amount decimal(18,6),
    says text not null,
    primary key (month, place)
);

insert into report.bridge_steps by name
with
totals as (
    select month, whole_sum(before) as before, whole_sum(volume) as volume, whole_sum(mix) as mix,
        whole_sum(price) as price, sum(ingredients) as ingredients, sum(packaging) as packaging, sum(yield) as yield,
        sum(conversion) as conversion, sum(other_stock) as other_stock, sum(duty) as duty, sum(freight) as freight,
        whole_sum(margin) as margin
    from result.margin_bridge
    group by month
)
select month,
    unnest([
        {place: 1, step: 'margin of last month', amount: before, says: 'as in the table of figures'},
        {place: 2, step: 'volume', amount: volume, says: 'more or fewer barrels, at last month''s average margin'},
        {place: 3, step: 'mix', amount: mix, says: 'other beers, packages and customers; new and lost lines'},
        {place: 4, step: 'price', amount: price, says: 'revenue per barrel of the same line, credits'},
        {place: 5, step: 'ingredients', amount: ingredients, says: 'their cost per barrel that left the kettle'},
        {place: 6, step: 'packaging materials', amount: packaging, says: 'their cost per barrel packaged'},
        {place: 7, step: 'yield', amount: yield, says: 'ingredients lost between kettle and package'},
        {place: 8, step: 'conversion', amount: conversion, says: 'labour and overhead per barrel packaged'},
        {place: 9, step: 'other stock', amount: other_stock,
            says: 'cost with no elements: opening stock, goods bought or taken back'},
        {place: 10, step: 'duty', amount: duty, says: 'duty per barrel'},
        {place: 11, step: 'freight', amount: freight, says: 'freight per barrel'},
        {place: 12, step: 'margin of this month', amount: margin, says: 'as in the table of figures'}
    ], recursive := true)
from totals;
