-- table: report.own_houses
-- grain: one own house and beer in one month, from the brewery to the glass
-- key: month, account, beer
-- units: bbl; the books' currency; glasses (of cans and bottles: containers)
-- reads: result.margins, result.house_takings
-- rule: M4
-- source: brewery_margin at the transfer price + house_margin (takings - transfer price) = margin through to the glass;
--   takings are blank where a package has no retail price, and the house's own costs are not in these books

create table report.own_houses (
    month text not null,
    account text not null,
    beer text not null,
    bbl decimal(18,6),
    transfer decimal(18,6),
    brewery_margin decimal(18,6),
    glasses decimal(18,6),
    takings decimal(18,6),
    house_margin decimal(18,6),
    glass_margin decimal(18,6),
    glass_margin_per_glass decimal(18,6),
    primary key (month, account, beer)
);

insert into report.own_houses by name
with
brewery as (
    select month, account, coalesce(beer, 'not stated') as beer, sum(bbl) as bbl, whole_sum(revenue) as transfer,
        whole_sum(margin) as brewery_margin
    from result.margins
    where account_kind = 'own_location'
    group by month, account, coalesce(beer, 'not stated')
),
houses as (
    select month, account, coalesce(beer, 'not stated') as beer, sum(glasses) as glasses, whole_sum(takings) as takings
    from result.house_takings
    group by month, account, coalesce(beer, 'not stated')
)
select brewery.*, houses.glasses, houses.takings,
    houses.takings - brewery.transfer as house_margin,
    houses.takings - brewery.transfer + brewery.brewery_margin as glass_margin,
    per(houses.takings - brewery.transfer + brewery.brewery_margin, houses.glasses) as glass_margin_per_glass
from brewery
left join houses using (month, account, beer);
