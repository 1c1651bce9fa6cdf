-- table: report.kettle_to_keg_months
-- grain: one brew, beside the month whose workbook shows it: the brews of the twelve months up to it
-- key: month, brew
-- units: bbl; %
-- reads: report.months, result.kettle_to_keg
-- rule: V8
-- source: none; presentation

create table report.kettle_to_keg_months as
select months.month, brews.month as brewed_month, brews.* exclude (month),
    coalesce(brews.end_of_boil_bbl, brews.fermenter_loss_bbl + brews.transfer_loss_bbl + brews.bright_tank_loss_bbl
        + brews.packaging_loss_bbl + brews.sample_bbl + brews.destroyed_bbl + brews.serving_tank_bbl
        + brews.packaged_bbl + brews.in_cellar_bbl) as start_bbl,
    percent(brews.packaged_bbl + brews.serving_tank_bbl, brews.end_of_boil_bbl - brews.in_cellar_bbl) as came_out_pct
from report.months as months
join result.kettle_to_keg as brews on brews.month <= months.month
    and date_diff('month', (brews.month || '-01')::date, months.first_day) < 12;
