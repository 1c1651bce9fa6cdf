-- table: result.margin_parts
-- grain: one beer, package and account in a month: what its cost of goods sold is made of
-- key: month, beer, package, account
-- units: money; bbl. stock_cost: goods whose make-up is not known (opening stock, goods taken back, found or short) or that
--   were bought packaged. The first five add up to the cost of goods sold, and so do variable, fixed and not known
-- reads: cost.sold_components
-- rule: M3
-- source: kettle_bbl is what the packaged_bbl sold began as, after the part that abnormal losses expensed

create table result.margin_parts (
    month text not null,
    beer text,
    package text,
    account text,
    ingredients decimal(18,6) not null,
    packaging decimal(18,6) not null,
    labour decimal(18,6) not null,
    overhead decimal(18,6) not null,
    stock_cost decimal(18,6) not null,
    variable_cost decimal(18,6) not null,
    fixed_cost decimal(18,6) not null,
    not_known_cost decimal(18,6) not null,
    kettle_bbl decimal(18,6) not null,
    packaged_bbl decimal(18,6) not null
);

insert into result.margin_parts by name
with
parts as (
    select month, beer, package, account, amount,
        split_part(component, '/', 1) as element,
        split_part(component, '/', 2) as kind,
        split_part(component, '/', 3) as behaviour
    from cost.sold_components
)
select month, beer, package, account,
    coalesce(sum(amount) filter (where element = 'ingredients'), 0) as ingredients,
    coalesce(sum(amount) filter (where element = 'packaging'), 0) as packaging,
    coalesce(sum(amount) filter (where element = 'labour'), 0) as labour,
    coalesce(sum(amount) filter (where element = 'overhead'), 0) as overhead,
    coalesce(sum(amount) filter (where element = 'stock'), 0) as stock_cost,
    coalesce(sum(amount) filter (where behaviour = 'variable'), 0) as variable_cost,
    coalesce(sum(amount) filter (where behaviour = 'fixed'), 0) as fixed_cost,
    coalesce(sum(amount) filter (where behaviour = 'not known'), 0) as not_known_cost,
    coalesce(sum(amount) filter (where element = 'barrels' and kind = 'kettle'), 0) as kettle_bbl,
    coalesce(sum(amount) filter (where element = 'barrels' and kind = 'packaged'), 0) as packaged_bbl
from parts
group by month, beer, package, account;
