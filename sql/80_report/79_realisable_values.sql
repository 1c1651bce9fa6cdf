-- table: report.realisable_values
-- grain: one beer in a package on hand at a month's end, all sites, held against what it brings
-- key: month, beer, package
-- units: packages, money
-- reads: report.goods_on_hand, result.margins
-- rule: M1, M2
-- source: IAS 2 paragraphs 28 to 33: stock at the lower of cost and net realisable value = price less the cost of selling
--   (here: duty and freight). The price is the average of the latest month with sales outside the own locations up to this one;
--   what lies below cost is listed for the controller to decide, nothing is written down here

create table report.realisable_values (
    month text not null,
    beer text not null,
    package text not null,
    closing_units decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    cost_per_package decimal(18,6),
    price_month text,
    price decimal(18,6),
    selling_cost decimal(18,6),
    realisable_per_package decimal(18,6),
    above_cost decimal(18,6),
    state text not null,
    primary key (month, beer, package)
);

insert into report.realisable_values by name
with
held as (
    select month, beer, package, sum(closing_units) as closing_units, sum(closing_cost) as closing_cost
    from report.goods_on_hand
    group by month, beer, package
),
sold as (
    select month, beer, package, per_sum(revenue, units) as price, per_sum(duty + freight, units) as selling_cost
    from result.margins
    where units > 0 and revenue > 0 and account_kind is distinct from 'own_location'
    group by month, beer, package
),
priced as (
    select held.*, sold.month as price_month, sold.price, sold.selling_cost,
        per(held.closing_cost, held.closing_units) as cost_per_package, sold.price - sold.selling_cost as realisable
    from held
    asof left join sold on sold.beer = held.beer and sold.package = held.package and sold.month <= held.month
)
select
    month, beer, package, closing_units, closing_cost, cost_per_package, price_month, price, selling_cost,
    realisable as realisable_per_package, (realisable - cost_per_package) * closing_units as above_cost,
    case
        when realisable is null then 'no price known'
        when realisable < cost_per_package then 'BELOW COST'
        else 'above cost'
    end as state
from priced;
