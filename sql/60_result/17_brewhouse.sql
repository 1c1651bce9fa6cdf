-- table: result.brewhouse
-- grain: one brew
-- key: brew
-- units: bbl (strike water and end of boil at 20 degrees), lb, degrees Plato, %, litres a kilogram and quarts a pound of what is mashed
-- reads: volume.brews, record.brews, cost.charges, record.materials
-- rule: U2, U3, V9
-- source: yield: extract in the kettle / weight of the grist; efficiency: extract in the kettle / extract in the grist (MBAA,
--   Ask the Brewmaster); two figures, never one name. Kettle gravity is read at the end of the boil; blank: the original gravity.
--   Malt and adjunct are mashed, sugar is not. A barrel is 117.347765304 L or 124 quarts, a pound 0.45359237 kg (NIST Handbook 44)

create table result.brewhouse (
    month text not null,
    site text not null,
    brew text primary key,
    lot text not null,
    beer text not null,
    style text,
    strike_bbl decimal(18,6),
    kettle_full_bbl decimal(18,6),
    end_of_boil_bbl decimal(18,6),
    boil_off_pct decimal(18,6),
    kettle_plato decimal(18,6),
    grist_lb decimal(18,6),
    mashed_lb decimal(18,6),
    liquor_l_per_kg decimal(18,6),
    liquor_qt_per_lb decimal(18,6),
    into_fermenter_bbl decimal(18,6) not null,
    original_plato decimal(18,6),
    kettle_extract_lb decimal(18,6),
    grist_extract_lb decimal(18,6),
    brewhouse_yield_pct decimal(18,6),
    brewhouse_efficiency_pct decimal(18,6)
);

insert into result.brewhouse by name
with
grist as (
    select
        charges.brew,
        sum(charges.stock_qty::double * materials.lb_per_stock_unit::double) as grist_lb,
        sum(charges.stock_qty::double * materials.lb_per_stock_unit::double)
            filter (where materials.kind <> 'sugar') as mashed_lb,
        -- Without the extract of every material of the grist there is no efficiency.
        case
            when count(*) = count(materials.extract_pct)
                then sum(charges.stock_qty::double * materials.lb_per_stock_unit::double
                    * materials.extract_pct::double / 100)
        end as grist_extract_lb
    from cost.charges
    join record.materials using (material)
    where charges.source = 'use' and charges.charged and charges.brew is not null
        and materials.kind in ('malt', 'adjunct', 'sugar') and materials.lb_per_stock_unit is not null
    group by charges.brew
),
kettles as (
    select
        brews.month, brews.site, brews.brew, brews.lot, brews.beer, brews.style,
        brews.volume_out_bbl as into_fermenter_bbl, records.original_plato,
        case when records.strike_temp_c is null then records.strike_bbl
            else at_20c(records.strike_bbl, records.strike_temp_c) end as strike_bbl,
        records.kettle_full_bbl,
        case when brews.measured then brews.volume_in_bbl end as end_of_boil_bbl,
        -- Both readings are taken hot, so both shrink alike.
        case when records.kettle_full_bbl > 0
            then 100 * (1 - records.end_of_boil_bbl::double / records.kettle_full_bbl::double) end as boil_off_pct,
        case when records.end_of_boil_bbl is not null
            then coalesce(records.kettle_plato, records.original_plato) end as kettle_plato,
        grist.grist_lb,
        grist.mashed_lb,
        grist.grist_extract_lb
    from volume.brews
    join record.brews as records using (brew)
    left join grist using (brew)
),
extracts as (
    select *, extract_lb(end_of_boil_bbl, kettle_plato) as kettle_extract_lb
    from kettles
)
select
    month, site, brew, lot, beer, style, into_fermenter_bbl, original_plato, strike_bbl, kettle_full_bbl, end_of_boil_bbl, boil_off_pct, kettle_plato, grist_lb, mashed_lb,
    case when mashed_lb > 0 then strike_bbl::double * 117.347765304 / (mashed_lb * 0.45359237) end as liquor_l_per_kg,
    case when mashed_lb > 0 then strike_bbl::double * 124 / mashed_lb end as liquor_qt_per_lb,
    kettle_extract_lb, grist_extract_lb,
    case when grist_lb > 0 then 100 * kettle_extract_lb / grist_lb end as brewhouse_yield_pct,
    case when grist_extract_lb > 0 then 100 * kettle_extract_lb / grist_extract_lb end as brewhouse_efficiency_pct
from extracts;
