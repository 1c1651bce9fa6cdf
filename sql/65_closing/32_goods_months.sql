-- table: closing.goods_months
-- grain: one row of result.goods_months in a closed month, as computed now
-- key: that of result.goods_months
-- units: those of result.goods_months
-- reads: result.goods_months, closing.months, closing.turn, record.months, given_frozen_goods_months
-- rule: none
-- source: result.goods_months shows a closed month as it was frozen; the first open month opens with its closing
--   figures, and what is computed now less those is its correction

create table closing.goods_months as
from result.goods_months where month in (select month from closing.months);

delete from result.goods_months where month in (select month from closing.months);

insert into result.goods_months by name
from given_frozen_goods_months;

-- What was there when the month was closed and is no more: it opens, and its correction takes it away.
insert into result.goods_months by name
select turn.first_open as month, frozen.site, frozen.beer, frozen.package,
    0 as opening_units, 0 as opening_bbl, 0 as opening_cost, 0 as correction_units, 0 as correction_bbl,
    0 as correction_cost, 0 as packaged_units, 0 as packaged_bbl, 0 as packaged_cost, 0 as received_units,
    0 as received_bbl, 0 as received_cost, 0 as restocked_units, 0 as restocked_bbl, 0 as restocked_cost,
    0 as repacked_units, 0 as repacked_bbl, 0 as repacked_cost, 0 as shipped_units, 0 as shipped_bbl,
    0 as shipped_cost, 0 as counted_units, 0 as counted_bbl, 0 as counted_cost, 0 as closing_units,
    0 as closing_bbl, 0 as closing_cost
from given_frozen_goods_months as frozen
join closing.turn on frozen.month = turn.last_closed
where turn.first_open in (select month from record.months)
    and (frozen.closing_units <> 0 or frozen.closing_bbl <> 0 or frozen.closing_cost <> 0)
    and not exists (
        from result.goods_months as now
        where now.month = turn.first_open and now.site = frozen.site and now.beer = frozen.beer and now.package = frozen.package
    );

update result.goods_months as now set
    opening_units = frozen.closing_units, correction_units = now.opening_units - frozen.closing_units,
    opening_bbl = frozen.closing_bbl, correction_bbl = now.opening_bbl - frozen.closing_bbl,
    opening_cost = frozen.closing_cost, correction_cost = now.opening_cost - frozen.closing_cost
from (
    select turn.first_open, months.site, months.beer, months.package,
        coalesce(frozen.closing_units, 0) as closing_units,
        coalesce(frozen.closing_bbl, 0) as closing_bbl,
        coalesce(frozen.closing_cost, 0) as closing_cost
    from closing.turn
    join result.goods_months as months on months.month = turn.first_open
    left join given_frozen_goods_months as frozen on frozen.month = turn.last_closed
        and frozen.site = months.site and frozen.beer = months.beer and frozen.package = months.package
) as frozen
where now.month = frozen.first_open and now.site = frozen.site and now.beer = frozen.beer and now.package = frozen.package;
