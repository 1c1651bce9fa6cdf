-- table: record.package_names
-- grain: one package a record names
-- key: package
-- units: none
-- reads: given_package_materials, given_prices, given_opening_goods, given_packaging, given_shipments, given_returns,
--   given_credits, given_repacks, given_counts, given_beer_in, given_empties
-- rule: none
-- source: kinds.toml

create table record.package_names (
    package text primary key
);

insert into record.package_names by name
select distinct package
from (
    select package from given_package_materials
    union all select package from given_prices
    union all select package from given_opening_goods
    union all select package from given_packaging
    union all select package from given_shipments
    union all select package from given_returns
    union all select package from given_credits
    union all select from_package from given_repacks
    union all select to_package from given_repacks
    union all select package from given_counts
    union all select package from given_beer_in
    union all select package from given_empties
)
where package is not null;
