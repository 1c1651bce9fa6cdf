-- table: report.beer_cost_kinds
-- grain: one beer packaged in one month, by what a barrel of it is made of
-- key: month, beer
-- units: the books' currency; malt with adjuncts and sugar
-- reads: report.cost_kinds
-- rule: M3, C10
-- source: none; presentation

create table report.beer_cost_kinds (
    month text not null,
    beer text not null,
    good_bbl decimal(18,6),
    malt_per_bbl decimal(18,6),
    hops_per_bbl decimal(18,6),
    yeast_per_bbl decimal(18,6),
    other_materials_per_bbl decimal(18,6),
    by_products_per_bbl decimal(18,6),
    bought_per_bbl decimal(18,6),
    opening_per_bbl decimal(18,6),
    packaging_per_bbl decimal(18,6),
    labour_per_bbl decimal(18,6),
    variable_overhead_per_bbl decimal(18,6),
    fixed_overhead_per_bbl decimal(18,6),
    cost_per_bbl decimal(18,6),
    primary key (month, beer)
);

insert into report.beer_cost_kinds by name
select month, beer,
    sum(good_bbl) as good_bbl,
    per_sum(malt, good_bbl) as malt_per_bbl,
    per_sum(hops, good_bbl) as hops_per_bbl,
    per_sum(yeast, good_bbl) as yeast_per_bbl,
    per_sum(other_materials, good_bbl) as other_materials_per_bbl,
    per_sum(by_products, good_bbl) as by_products_per_bbl,
    per_sum(bought, good_bbl) as bought_per_bbl,
    per_sum(opening, good_bbl) as opening_per_bbl,
    per_sum(packaging, good_bbl) as packaging_per_bbl,
    per_sum(labour, good_bbl) as labour_per_bbl,
    per_sum(variable_overhead, good_bbl) as variable_overhead_per_bbl,
    per_sum(fixed_overhead, good_bbl) as fixed_overhead_per_bbl,
    per_sum(total_cost, good_bbl) as cost_per_bbl
from report.cost_kinds
group by month, beer;
