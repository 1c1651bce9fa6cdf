-- table: result.purchase_variances
-- grain: one material of a site received in a month that has a standard price
-- key: month, site, material
-- units: quantity in the stock unit `unit`; money, positive = dearer than the standard
-- reads: result.material_months, record.materials
-- rule: C13
-- source: price variance isolated at purchase = (actual - standard price) * quantity bought (Saylor Academy 2012, Managerial
--   Accounting, 10.3); it stands beside the variance at use and is not added to it

create table result.purchase_variances (
    month text not null,
    site text not null,
    material text not null,
    unit text not null,
    received_qty decimal(18,6) not null,
    received_cost decimal(18,6) not null,
    standard_price decimal(18,6) not null,
    price_variance decimal(18,6) not null,
    primary key (month, site, material)
);

insert into result.purchase_variances by name
select months.month, months.site, months.material, months.unit, months.received_qty, months.received_cost,
    materials.standard_price,
    months.received_cost - at_price(months.received_qty, materials.standard_price) as price_variance
from result.material_months as months
join record.materials using (material)
where months.received_qty <> 0 and materials.standard_price is not null;
