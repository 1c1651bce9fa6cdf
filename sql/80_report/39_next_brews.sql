-- table: report.next_brews
-- grain: one beer that is brewed, at the end of a month: what one more brew of it would add, and whether it is wanted
-- key: month, beer
-- units: bbl, days, weeks, the books' currency
-- reads: report.months, report.contributions, report.stock_weeks, result.stage_losses, result.lots, result.lot_months
-- rule: M6, M7
-- source: a brew's barrels: the mean into the fermenter so far, times what each later stage of this beer kept of what it was
--   given. Contribution per barrel: of the latest month that sold the beer. Tank-days: days in fermenters per barrel drawn
--   from them, and in bright tanks likewise, so far. Fixed cost does not change with one more brew, so it is left out; a
--   brew that goes on as another beer is valued as the beer it is brewed as

create table report.next_brews (
    month text not null,
    beer text not null,
    stock_bbl decimal(18,6),
    weeks decimal(18,6),
    in_tank_bbl decimal(18,6),
    weeks_with_tank decimal(18,6),
    brew_bbl decimal(18,6),
    good_bbl decimal(18,6),
    contribution_per_bbl decimal(18,6),
    contribution decimal(18,6),
    tank_days decimal(18,6),
    contribution_per_tank_day decimal(18,6),
    primary key (month, beer)
);

insert into report.next_brews by name
with
brews as (
    select months.month, losses.beer, per_sum(losses.volume_out_bbl, 1) as brew_bbl
    from report.months
    join result.stage_losses as losses on losses.stage = 'kettle' and losses.month <= months.month
        and losses.volume_out_bbl > 0
    where losses.beer is not null
    group by months.month, losses.beer
),
kept as (
    select months.month, losses.beer, losses.stage,
        sum(losses.volume_out_bbl)::double / sum(losses.volume_in_bbl)::double as part
    from report.months
    join result.stage_losses as losses on losses.stage <> 'kettle' and losses.month <= months.month
        and losses.loss_bbl is not null
    group by months.month, losses.beer, losses.stage
    having sum(losses.volume_in_bbl) > 0
),
yields as (
    select month, beer, product(part) as part from kept group by month, beer
),
held as (
    select months.month, lots.site, lots.lot, lots.beer, lots.stage,
        least(coalesce(lots.emptied_on, months.last_day), months.last_day) - lots.opened_on + 1 as days
    from report.months
    join result.lots on lots.opened_on <= months.last_day
),
drawn as (
    select months.month, lot_months.site, lot_months.lot, sum(lot_months.drawn_bbl) as bbl
    from report.months
    join result.lot_months on lot_months.month <= months.month
    group by months.month, lot_months.site, lot_months.lot
),
by_kind as (
    select held.month, held.beer, held.stage, sum(held.days)::double / sum(drawn.bbl)::double as days_per_bbl
    from held
    join drawn using (month, site, lot)
    group by held.month, held.beer, held.stage
    having sum(drawn.bbl) > 0
),
tank_days as (
    select month, beer, sum(days_per_bbl) as days_per_bbl from by_kind group by month, beer
),
sold as (
    select month, beer, per_whole_sum(contribution, bbl) as contribution_per_bbl
    from report.contributions
    group by month, beer
    having sum(bbl) > 0
),
stock as (
    select stock.month, stock.beer, sum(stock.stock_bbl) as stock_bbl, sum(stock.out_bbl) as out_bbl,
        any_value(months.last_day - months.first_day + 1) as days
    from report.stock_weeks as stock
    join report.months using (month)
    group by stock.month, stock.beer
),
in_tank as (
    select month, beer, sum(closing_bbl) as bbl from result.lot_months group by month, beer
),
figures as (
    select brews.month, brews.beer, brews.brew_bbl,
        rounded6(brews.brew_bbl::double * coalesce(yields.part, 1)) as good_bbl,
        tank_days.days_per_bbl, sold.contribution_per_bbl
    from brews
    left join yields using (month, beer)
    left join tank_days using (month, beer)
    asof left join sold on sold.beer = brews.beer and sold.month <= brews.month
),
added as (
    select *,
        at_price(contribution_per_bbl, good_bbl) as contribution,
        rounded6(days_per_bbl * good_bbl::double) as tank_days
    from figures
)
select added.month, added.beer, coalesce(stock.stock_bbl, 0) as stock_bbl,
    per(stock.stock_bbl * stock.days, stock.out_bbl * 7) as weeks,
    coalesce(in_tank.bbl, 0) as in_tank_bbl,
    per((stock.stock_bbl + coalesce(in_tank.bbl, 0)) * stock.days, stock.out_bbl * 7) as weeks_with_tank,
    added.brew_bbl, added.good_bbl, added.contribution_per_bbl, added.contribution, added.tank_days,
    per(added.contribution, added.tank_days) as contribution_per_tank_day
from added
left join stock using (month, beer)
left join in_tank using (month, beer);
