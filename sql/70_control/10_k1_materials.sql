-- table: control.k1_materials
-- grain: one month, site, material and figure
-- key: month, subject
-- units: the material's stock unit, or money
-- reads: result.material_months, cost.material_moves, record.months
-- rule: K1
-- source: opening + received - used + counted = closing

create table control.k1_materials (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k1_materials by name
select month, 'K1' as control, concat_ws(' · ', site, material, 'quantity') as subject,
    opening_qty + correction_qty + received_qty - used_qty + counted_qty as expected, closing_qty as actual
from result.material_months
union all by name
select month, 'K1' as control, concat_ws(' · ', site, material, 'cost') as subject,
    opening_cost + correction_cost + received_cost - used_cost + counted_cost as expected, closing_cost as actual
from result.material_months
union all by name
-- What the layers still hold must be what the books say: by month, all materials of a site together.
select layers.month, 'K1' as control, concat_ws(' · ', layers.site, 'all materials', 'cost of the layers') as subject,
    layers.cost as expected, books.cost as actual
from (
    select months.month, moves.site,
        sum(moves.cost_in) - sum(case when moves.kind = 'use' then moves.used_cost - moves.short_cost
            else -moves.counted_cost end) as cost
    from record.months
    join cost.material_moves as moves on moves.month <= months.month
    group by months.month, moves.site
) as layers
join (
    select month, site, sum(closing_cost) as cost from result.material_months group by month, site
) as books using (month, site);
