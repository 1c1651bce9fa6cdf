-- table: report.goods
-- grain: one beer in one package at one site in one month, with what it stands at per package at the end and the month before
-- key: month, site, beer, package
-- units: packages, bbl, the books' currency
-- reads: result.goods_months
-- rule: C11
-- source: none; presentation

create table report.goods (
    month text not null,
    site text not null,
    beer text not null,
    package text not null,
    opening_units decimal(18,6),
    opening_bbl decimal(18,6),
    opening_cost decimal(18,6),
    correction_units decimal(18,6),
    correction_bbl decimal(18,6),
    correction_cost decimal(18,6),
    packaged_units decimal(18,6),
    packaged_bbl decimal(18,6),
    packaged_cost decimal(18,6),
    received_units decimal(18,6),
    received_bbl decimal(18,6),
    received_cost decimal(18,6),
    restocked_units decimal(18,6),
    restocked_bbl decimal(18,6),
    restocked_cost decimal(18,6),
    repacked_units decimal(18,6),
    repacked_bbl decimal(18,6),
    repacked_cost decimal(18,6),
    shipped_units decimal(18,6),
    shipped_bbl decimal(18,6),
    shipped_cost decimal(18,6),
    counted_units decimal(18,6),
    counted_bbl decimal(18,6),
    counted_cost decimal(18,6),
    closing_units decimal(18,6),
    closing_bbl decimal(18,6),
    closing_cost decimal(18,6),
    opening_cost_per_package decimal(18,6),
    closing_cost_per_package decimal(18,6),
    change_cost_per_package decimal(18,6),
    change_cost decimal(18,6),
    primary key (month, site, beer, package)
);

insert into report.goods by name
select *,
    per(opening_cost, opening_units) as opening_cost_per_package,
    per(closing_cost, closing_units) as closing_cost_per_package,
    per(closing_cost, closing_units) - per(opening_cost, opening_units) as change_cost_per_package,
    closing_cost - opening_cost as change_cost
from result.goods_months;
