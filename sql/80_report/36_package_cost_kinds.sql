-- table: report.package_cost_kinds
-- grain: one beer in one package, packaged in one month, by what a package of it is made of
-- key: month, beer, package
-- units: the books' currency; malt with adjuncts and sugar
-- reads: report.cost_kinds
-- rule: M3, C10
-- source: none; presentation

create table report.package_cost_kinds (
    month text not null,
    beer text not null,
    package text not null,
    filled decimal(18,6),
    malt_per_package decimal(18,6),
    hops_per_package decimal(18,6),
    yeast_per_package decimal(18,6),
    other_materials_per_package decimal(18,6),
    by_products_per_package decimal(18,6),
    bought_per_package decimal(18,6),
    opening_per_package decimal(18,6),
    packaging_per_package decimal(18,6),
    labour_per_package decimal(18,6),
    variable_overhead_per_package decimal(18,6),
    fixed_overhead_per_package decimal(18,6),
    cost_per_package decimal(18,6),
    primary key (month, beer, package)
);

insert into report.package_cost_kinds by name
select month, beer, package,
    sum(filled) as filled,
    per_sum(malt, filled) as malt_per_package,
    per_sum(hops, filled) as hops_per_package,
    per_sum(yeast, filled) as yeast_per_package,
    per_sum(other_materials, filled) as other_materials_per_package,
    per_sum(by_products, filled) as by_products_per_package,
    per_sum(bought, filled) as bought_per_package,
    per_sum(opening, filled) as opening_per_package,
    per_sum(packaging, filled) as packaging_per_package,
    per_sum(labour, filled) as labour_per_package,
    per_sum(variable_overhead, filled) as variable_overhead_per_package,
    per_sum(fixed_overhead, filled) as fixed_overhead_per_package,
    per_sum(total_cost, filled) as cost_per_package
from report.cost_kinds
group by month, beer, package;
