-- table: control.k3_goods
-- grain: one month, site, beer, package and figure
-- key: month, subject
-- units: packages, bbl or money
-- reads: result.goods_months, result.house_stock_months
-- rule: K3
-- source: opening + packaged + received + restocked + repacked - shipped + counted = closing

create table control.k3_goods (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k3_goods by name
select month, 'K3' as control, concat_ws(' · ', site, beer, package, 'units') as subject,
    opening_units + correction_units + packaged_units + received_units + restocked_units + repacked_units
        - shipped_units + counted_units as expected,
    closing_units as actual
from result.goods_months
union all by name
select month, 'K3' as control, concat_ws(' · ', site, beer, package, 'barrels') as subject,
    opening_bbl + correction_bbl + packaged_bbl + received_bbl + restocked_bbl + repacked_bbl - shipped_bbl
        + counted_bbl as expected,
    closing_bbl as actual
from result.goods_months
union all by name
select month, 'K3' as control, concat_ws(' · ', site, beer, package, 'cost') as subject,
    opening_cost + correction_cost + packaged_cost + received_cost + restocked_cost + repacked_cost - shipped_cost
        + counted_cost as expected,
    closing_cost as actual
from result.goods_months
union all by name
select month, 'K3' as control, concat_ws(' · ', account, beer, package, 'units') as subject,
    opening_units + correction_units + delivered_units - returned_units - used_units as expected, closing_units as actual
from result.house_stock_months
union all by name
select month, 'K3' as control, concat_ws(' · ', account, beer, package, 'cost') as subject,
    opening_cost + correction_cost + delivered_cost - returned_cost - used_cost as expected, closing_cost as actual
from result.house_stock_months;
