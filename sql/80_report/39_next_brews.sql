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
-- What each month adds; what stands up to a month is the sum of these.
brewed as (
    select month, beer, sum(volume_out_bbl) as bbl, count(*) as brews
    from result.stage_losses
    where stage = 'kettle' and volume_out_bbl > 0 and beer is not null
    group by month, beer
),
staged as (
    select month, beer, stage, sum(volume_in_bbl) as in_bbl, sum(volume_out_bbl) as out_bbl
    from result.stage_losses
    where stage <> 'kettle' and loss_bbl is not null
    group by month, beer, stage
),
drawn as (
    select lot_months.month, lots.beer, lots.stage, sum(lot_months.drawn_bbl) as bbl, 0 as days
    from result.lot_months
    join result.lots using (site, lot)
    group by lot_months.month, lots.beer, lots.stage
),
emptied as (
    select month_of(emptied_on) as month, beer, stage, 0 as bbl, sum(emptied_on - opened_on + 1) as days
    from result.lots
    where emptied_on is not null
    group by month_of(emptied_on), beer, stage
),
brews as (
    select months.month, brewed.beer, per_sum(brewed.bbl, brewed.brews) as brew_bbl
    from report.months
    join brewed on brewed.month <= months.month
    group by months.month, brewed.beer
),
kept as (
    select months.month, staged.beer, staged.stage, sum(staged.out_bbl)::double / sum(staged.in_bbl)::double as part
    from report.months
    join staged on staged.month <= months.month
    group by months.month, staged.beer, staged.stage
    having sum(staged.in_bbl) > 0
),
yields as (
    select month, beer, product(part) as part from kept group by month, beer
),
held as (
    select months.month, added.beer, added.stage, added.bbl, added.days
    from report.months
    join (from drawn union all by name from emptied) as added on added.month <= months.month
    union all by name
    select months.month, lots.beer, lots.stage, 0 as bbl, months.last_day - lots.opened_on + 1 as days
    from report.months
    join result.lots on lots.opened_on <= months.last_day
        and coalesce(lots.emptied_on, date '9999-12-31') > months.last_day
),
by_kind as (
    select month, beer, stage, sum(days)::double / sum(bbl)::double as days_per_bbl
    from held
    group by month, beer, stage
    having sum(bbl) > 0
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
