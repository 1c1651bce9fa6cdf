-- table: closing.lot_months
-- grain: one row of result.lot_months in a closed month, as computed now
-- key: that of result.lot_months
-- units: those of result.lot_months
-- reads: result.lot_months, closing.months, closing.turn, record.months, given_frozen_lot_months
-- rule: none
-- source: result.lot_months shows a closed month as it was frozen; the first open month opens with its closing
--   figures, and what is computed now less those is its correction

create table closing.lot_months as
from result.lot_months where month in (select month from closing.months);

delete from result.lot_months where month in (select month from closing.months);

insert into result.lot_months by name
from given_frozen_lot_months;

-- What was there when the month was closed and is no more: it opens, and its correction takes it away.
insert into result.lot_months by name
select turn.first_open as month, frozen.site, frozen.lot, frozen.beer,
    0 as opening_bbl, 0 as opening_cost, 0 as correction_bbl, 0 as correction_cost, 0 as in_bbl, 0 as drawn_bbl,
    0 as loss_bbl, 0 as added_cost, 0 as drawn_cost, 0 as abnormal_cost, 0 as closing_bbl, 0 as closing_cost
from given_frozen_lot_months as frozen
join closing.turn on frozen.month = turn.last_closed
where turn.first_open in (select month from record.months)
    and (frozen.closing_bbl <> 0 or frozen.closing_cost <> 0)
    and not exists (
        from result.lot_months as now
        where now.month = turn.first_open and now.site = frozen.site and now.lot = frozen.lot
    );

update result.lot_months as now set
    opening_bbl = frozen.closing_bbl, correction_bbl = now.opening_bbl - frozen.closing_bbl,
    opening_cost = frozen.closing_cost, correction_cost = now.opening_cost - frozen.closing_cost
from (
    select turn.first_open, months.site, months.lot,
        coalesce(frozen.closing_bbl, 0) as closing_bbl,
        coalesce(frozen.closing_cost, 0) as closing_cost
    from closing.turn
    join result.lot_months as months on months.month = turn.first_open
    left join given_frozen_lot_months as frozen on frozen.month = turn.last_closed
        and frozen.site = months.site and frozen.lot = months.lot
) as frozen
where now.month = frozen.first_open and now.site = frozen.site and now.lot = frozen.lot;
