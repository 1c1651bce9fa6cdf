-- table: report.beer_ready
-- grain: one lot with beer in it at the end of a month
-- key: month, site, lot
-- units: bbl; days in this tank, first and last included
-- reads: result.lot_months, result.lots, report.months
-- rule: M7
-- source: usual_days: the mean over the lots of the same beer and kind of tank emptied so far in these books. usual_end is
--   when a lot of this beer usually leaves such a tank: from a fermenter onwards, from a bright tank into packages. It is a
--   look at the past, not a reading of the beer

create table report.beer_ready (
    month text not null,
    site text not null,
    lot text not null,
    beer text,
    vessel text,
    tank text not null,
    bbl decimal(18,6),
    days_so_far bigint,
    usual_days decimal(18,6),
    usual_end date,
    primary key (month, site, lot)
);

insert into report.beer_ready by name
with
usual as (
    select months.month, lots.beer, lots.stage,
        per_sum((lots.emptied_on - lots.opened_on + 1)::decimal(18,6), 1) as days
    from report.months
    join result.lots on lots.emptied_on <= months.last_day
    group by months.month, lots.beer, lots.stage
)
select months.month, lots.site, lots.lot, lots.beer, lots.vessel, replace(lots.stage, '_', ' ') as tank,
    held.closing_bbl as bbl, months.last_day - lots.opened_on + 1 as days_so_far, usual.days as usual_days,
    lots.opened_on + round(usual.days)::int - 1 as usual_end
from report.months
join result.lot_months as held on held.month = months.month and held.closing_bbl > 0
join result.lots on lots.site = held.site and lots.lot = held.lot
left join usual on usual.month = months.month and usual.beer is not distinct from lots.beer
    and usual.stage = lots.stage;
