-- table: report.cost_kinds
-- grain: one beer in one package, packaged in one month, by what its cost is made of
-- key: month, beer, package
-- units: the books' currency; the parts add up to total_cost
-- reads: result.run_cost_parts, result.run_costs
-- rule: M3, C10
-- source: none; presentation

create table report.cost_kinds (
    month text not null,
    beer text not null,
    package text not null,
    filled decimal(18,6),
    good_bbl decimal(18,6),
    malt decimal(18,6),
    hops decimal(18,6),
    yeast decimal(18,6),
    other_materials decimal(18,6),
    by_products decimal(18,6),
    bought decimal(18,6),
    opening decimal(18,6),
    packaging decimal(18,6),
    labour decimal(18,6),
    variable_overhead decimal(18,6),
    fixed_overhead decimal(18,6),
    total_cost decimal(18,6),
    primary key (month, beer, package)
);

insert into report.cost_kinds by name
with
parts as (
    select *,
        case
            when kind = 'opening beer' then 'opening'
            when kind = 'beer bought' then 'bought'
            when kind = 'by-products' then 'by-products'
            when element = 'ingredients' and kind in ('malt', 'adjunct', 'sugar') then 'malt'
            when element = 'ingredients' and kind in ('hops', 'yeast') then kind
            when element = 'ingredients' then 'other'
            when element in ('packaging', 'labour') then element
            when behaviour = 'fixed' then 'fixed'
            else 'variable'
        end as part
    from result.run_cost_parts
),
made as (
    select month, coalesce(beer, 'not stated') as beer, package, sum(filled) as filled, sum(good_bbl) as good_bbl,
        sum(total_cost) as total_cost
    from result.run_costs
    group by month, coalesce(beer, 'not stated'), package
),
summed as (
    select month, coalesce(beer, 'not stated') as beer, package, part, sum(amount) as amount
    from parts
    group by month, coalesce(beer, 'not stated'), package, part
)
select made.month, made.beer, made.package, any_value(made.filled) as filled, any_value(made.good_bbl) as good_bbl,
    coalesce(sum(summed.amount) filter (where part = 'malt'), 0) as malt,
    coalesce(sum(summed.amount) filter (where part = 'hops'), 0) as hops,
    coalesce(sum(summed.amount) filter (where part = 'yeast'), 0) as yeast,
    coalesce(sum(summed.amount) filter (where part = 'other'), 0) as other_materials,
    coalesce(sum(summed.amount) filter (where part = 'by-products'), 0) as by_products,
    coalesce(sum(summed.amount) filter (where part = 'bought'), 0) as bought,
    coalesce(sum(summed.amount) filter (where part = 'opening'), 0) as opening,
    coalesce(sum(summed.amount) filter (where part = 'packaging'), 0) as packaging,
    coalesce(sum(summed.amount) filter (where part = 'labour'), 0) as labour,
    coalesce(sum(summed.amount) filter (where part = 'variable'), 0) as variable_overhead,
    coalesce(sum(summed.amount) filter (where part = 'fixed'), 0) as fixed_overhead,
    any_value(made.total_cost) as total_cost
from made
left join summed using (month, beer, package)
group by made.month, made.beer, made.package;
