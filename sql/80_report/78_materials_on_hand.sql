-- table: report.materials_on_hand
-- grain: one material at a site, on hand at a month's end
-- key: month, site, material
-- units: quantity in the stock unit `unit`, money, days
-- reads: result.material_months, record.months
-- rule: C1
-- source: as report.goods_on_hand: by the use of this month and the two before; slow: more than 180 days (common practice, no
--   source)

create table report.materials_on_hand (
    month text not null,
    site text not null,
    material text not null,
    unit text not null,
    closing_qty decimal(18,6) not null,
    closing_cost decimal(18,6) not null,
    cost_per_unit decimal(18,6),
    days_on_hand decimal(18,6),
    state text not null,
    primary key (month, site, material)
);

insert into report.materials_on_hand by name
with
days as (
    select month, sum(days) over (order by month rows between 2 preceding and current row) as days from record.months
),
held as (
    select materials.month, materials.site, materials.material, materials.unit, materials.closing_qty,
        materials.closing_cost, days.days,
        sum(materials.used_qty) over (
            partition by materials.site, materials.material order by (materials.month || '-01')::date
            range between interval 2 months preceding and current row
        ) as used_qty
    from result.material_months as materials
    join days using (month)
)
select month, site, material, unit, closing_qty, closing_cost, per(closing_cost, closing_qty) as cost_per_unit,
    per(closing_qty * days, used_qty) as days_on_hand,
    case when per(closing_qty * days, used_qty) <= 180 then '' else 'slow' end as state
from held
where closing_qty <> 0 or closing_cost <> 0;
