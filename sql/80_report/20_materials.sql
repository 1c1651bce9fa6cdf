-- table: report.materials
-- grain: one material of one site and month, with what it stands at per unit at the end and the month before
-- key: month, site, material
-- units: qty in the material's stock unit, cost in the books' currency
-- reads: result.material_months
-- rule: C1
-- source: none; presentation

create table report.materials (
    month text not null,
    site text not null,
    material text not null,
    unit text,
    opening_qty decimal(18,6),
    opening_cost decimal(18,6),
    correction_qty decimal(18,6),
    correction_cost decimal(18,6),
    received_qty decimal(18,6),
    received_cost decimal(18,6),
    used_qty decimal(18,6),
    used_cost decimal(18,6),
    counted_qty decimal(18,6),
    counted_cost decimal(18,6),
    closing_qty decimal(18,6),
    closing_cost decimal(18,6),
    opening_cost_per_unit decimal(18,6),
    closing_cost_per_unit decimal(18,6),
    change_cost_per_unit decimal(18,6),
    change_cost decimal(18,6),
    primary key (month, site, material)
);

insert into report.materials by name
select *,
    per(opening_cost, opening_qty) as opening_cost_per_unit,
    per(closing_cost, closing_qty) as closing_cost_per_unit,
    per(closing_cost, closing_qty) - per(opening_cost, opening_qty) as change_cost_per_unit,
    closing_cost - opening_cost as change_cost
from result.material_months;
