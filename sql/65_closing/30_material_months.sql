-- table: closing.material_months
-- grain: one row of result.material_months in a closed month, as computed now
-- key: that of result.material_months
-- units: those of result.material_months
-- reads: result.material_months, closing.months, closing.turn, record.months, given_frozen_material_months
-- rule: none
-- source: result.material_months shows a closed month as it was frozen; the first open month opens with its closing
--   figures, and what is computed now less those is its correction

create table closing.material_months as
from result.material_months where month in (select month from closing.months);

delete from result.material_months where month in (select month from closing.months);

insert into result.material_months by name
from given_frozen_material_months;

-- What was there when the month was closed and is no more: it opens, and its correction takes it away.
insert into result.material_months by name
select turn.first_open as month, frozen.site, frozen.material, frozen.unit,
    0 as opening_qty, 0 as opening_cost, 0 as correction_qty, 0 as correction_cost, 0 as received_qty,
    0 as received_cost, 0 as used_qty, 0 as used_cost, 0 as counted_qty, 0 as counted_cost, 0 as closing_qty,
    0 as closing_cost
from given_frozen_material_months as frozen
join closing.turn on frozen.month = turn.last_closed
where turn.first_open in (select month from record.months)
    and (frozen.closing_qty <> 0 or frozen.closing_cost <> 0)
    and not exists (
        from result.material_months as now
        where now.month = turn.first_open and now.site = frozen.site and now.material = frozen.material
    );

update result.material_months as now set
    opening_qty = frozen.closing_qty, correction_qty = now.opening_qty - frozen.closing_qty,
    opening_cost = frozen.closing_cost, correction_cost = now.opening_cost - frozen.closing_cost
from (
    select turn.first_open, months.site, months.material,
        coalesce(frozen.closing_qty, 0) as closing_qty,
        coalesce(frozen.closing_cost, 0) as closing_cost
    from closing.turn
    join result.material_months as months on months.month = turn.first_open
    left join given_frozen_material_months as frozen on frozen.month = turn.last_closed
        and frozen.site = months.site and frozen.material = months.material
) as frozen
where now.month = frozen.first_open and now.site = frozen.site and now.material = frozen.material;
