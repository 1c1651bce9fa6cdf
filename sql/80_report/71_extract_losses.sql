-- table: report.extract_losses
-- grain: one brew
-- key: month, brew
-- units: lb of extract; % of the extract in the grist; litres a kilogram and quarts a pound
-- reads: result.brewhouse, result.kettle_to_keg
-- rule: V9, U3
-- source: extract in the grist less that in the kettle stays in the spent grain; what is lost with the wort between the kettle and
--   the fermenter, at the kettle's own strength, stays in trub and hops

create table report.extract_losses (
    month text not null,
    site text not null,
    brew text not null,
    beer text not null,
    strike_bbl decimal(18,6),
    liquor_l_per_kg decimal(18,6),
    liquor_qt_per_lb decimal(18,6),
    kettle_full_bbl decimal(18,6),
    end_of_boil_bbl decimal(18,6),
    boil_off_pct decimal(18,6),
    kettle_plato decimal(18,6),
    grist_lb decimal(18,6),
    grist_extract_lb decimal(18,6),
    kettle_extract_lb decimal(18,6),
    in_spent_grain_lb decimal(18,6),
    in_trub_lb decimal(18,6),
    brewhouse_yield_pct decimal(18,6),
    brewhouse_efficiency_pct decimal(18,6),
    primary key (month, brew)
);

insert into report.extract_losses by name
select
    brewhouse.month, brewhouse.site, brewhouse.brew, brewhouse.beer, brewhouse.strike_bbl,
    brewhouse.liquor_l_per_kg, brewhouse.liquor_qt_per_lb, brewhouse.kettle_full_bbl, brewhouse.end_of_boil_bbl,
    brewhouse.boil_off_pct, brewhouse.kettle_plato, brewhouse.grist_lb, brewhouse.grist_extract_lb,
    brewhouse.kettle_extract_lb,
    brewhouse.grist_extract_lb - brewhouse.kettle_extract_lb as in_spent_grain_lb,
    case when brews.end_of_boil_bbl > 0
        then part6(brewhouse.kettle_extract_lb, brews.kettle_loss_bbl, brews.end_of_boil_bbl) end as in_trub_lb,
    brewhouse.brewhouse_yield_pct, brewhouse.brewhouse_efficiency_pct
from result.brewhouse as brewhouse
left join result.kettle_to_keg as brews on brews.brew = brewhouse.brew;
