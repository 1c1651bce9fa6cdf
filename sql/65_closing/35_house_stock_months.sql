-- table: closing.house_stock_months
-- grain: one row of result.house_stock_months in a closed month, as computed now
-- key: that of result.house_stock_months
-- units: those of result.house_stock_months
-- reads: result.house_stock_months, closing.months, closing.turn, record.months, given_frozen_house_stock_months
-- rule: none
-- source: result.house_stock_months shows a closed month as it was frozen; the first open month opens with its closing
--   figures, and what is computed now less those is its correction

create table closing.house_stock_months as
from result.house_stock_months where month in (select month from closing.months);

delete from result.house_stock_months where month in (select month from closing.months);

insert into result.house_stock_months by name
from given_frozen_house_stock_months;

-- What was there when the month was closed and is no more: it opens, and its correction takes it away.
insert into result.house_stock_months by name
select turn.first_open as month, frozen.account, frozen.beer, frozen.package,
    0 as opening_units, 0 as opening_cost, 0 as correction_units, 0 as correction_cost, 0 as delivered_units,
    0 as delivered_cost, 0 as returned_units, 0 as returned_cost, 0 as used_units, 0 as used_cost,
    0 as closing_units, 0 as closing_cost
from given_frozen_house_stock_months as frozen
join closing.turn on frozen.month = turn.last_closed
where turn.first_open in (select month from record.months)
    and (frozen.closing_units <> 0 or frozen.closing_cost <> 0)
    and not exists (
        from result.house_stock_months as now
        where now.month = turn.first_open and now.account = frozen.account and now.beer = frozen.beer
            and now.package = frozen.package
    );

update result.house_stock_months as now set
    opening_units = frozen.closing_units, correction_units = now.opening_units - frozen.closing_units,
    opening_cost = frozen.closing_cost, correction_cost = now.opening_cost - frozen.closing_cost
from (
    select turn.first_open, months.account, months.beer, months.package,
        coalesce(frozen.closing_units, 0) as closing_units,
        coalesce(frozen.closing_cost, 0) as closing_cost
    from closing.turn
    join result.house_stock_months as months on months.month = turn.first_open
    left join given_frozen_house_stock_months as frozen on frozen.month = turn.last_closed
        and frozen.account = months.account and frozen.beer = months.beer and frozen.package = months.package
) as frozen
where now.month = frozen.first_open and now.account = frozen.account and now.beer = frozen.beer
    and now.package = frozen.package;
