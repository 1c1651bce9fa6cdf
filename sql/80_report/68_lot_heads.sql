-- table: report.lot_heads
-- grain: one lot: the head of its page, in the workbook of the month in which it was emptied, else of the last month
-- key: site, lot
-- units: bbl, degrees Plato, %, days, lb, the books' currency; kegs of 15.5 gal
-- reads: report.cellar_days, result.lots, result.lot_flows, result.lot_materials, result.brewhouse, result.stage_losses,
--   report.lot_gravities
-- rule: V2, V6, V7, U4
-- source: a week for ales and two for lagers: common practice, no source; Balling's formulas on the lot's last gravity

create table report.lot_heads (
    month text not null,
    page text not null,
    site text not null,
    lot text not null,
    beer text,
    vessel text,
    filled_from text,
    went_to text,
    yeast text,
    opened_on date not null,
    emptied_on date,
    days bigint not null,
    usual_days bigint,
    original_plato decimal(18,6),
    last_plato decimal(18,6),
    attenuation_pct decimal(18,6),
    abv_pct decimal(18,6),
    in_bbl decimal(18,6) not null,
    drawn_bbl decimal(18,6) not null,
    in_hand_bbl decimal(18,6),
    loss_bbl decimal(18,6),
    reading_error_bbl decimal(18,6),
    loss_pct decimal(18,6),
    allowed_bbl decimal(18,6),
    hop_allowed_bbl decimal(18,6),
    hops_lb decimal(18,6),
    half_barrels decimal(18,6),
    loss_cost decimal(18,6),
    verdict text not null,
    primary key (site, lot)
);

insert into report.lot_heads by name
with
last_month as (
    select max(month) as month, max(day) as last_day from report.cellar_days
),
flows as (
    select site, lot,
        sum(volume_bbl) filter (where direction = 'in') as in_bbl,
        coalesce(sum(volume_bbl) filter (where direction = 'out'), 0) as drawn_bbl,
        string_agg(concat_ws(' ', record, 'from', nullif(other_vessel, '')), ', ' order by date, record)
            filter (where direction = 'in' and other_lot is not null) as from_tanks,
        string_agg(record, ', ' order by date, record) filter (where direction = 'in' and other_lot is null) as from_brews,
        array_to_string(list_sort(list(distinct case when other_lot is not null then concat_ws(' ', other_vessel, 'as', other_lot)
            when package is not null then split_part(record, ' line ', 1) else replace(reason, '_', ' ') end)
            filter (where direction = 'out')), ', ') as went_to
    from result.lot_flows
    group by site, lot
),
worts as (
    select site, lot,
        case when count(original_plato) = count(*) and sum(into_fermenter_bbl) > 0
            then sum(into_fermenter_bbl::double * original_plato::double) / sum(into_fermenter_bbl::double) end as original_plato
    from result.brewhouse
    group by site, lot
),
yeasts as (
    select site, lot, array_to_string(list_sort(list(distinct concat_ws(', generation ', material, generation::text))), '; ') as yeast
    from result.lot_materials
    where kind = 'yeast'
    group by site, lot
),
gravities as (
    select site, lot, arg_max(plato, date) as last_plato
    from report.lot_gravities
    group by site, lot
)
select
    coalesce(strftime(lots.emptied_on, '%Y-%m'), last_month.month) as month,
    concat_ws(', ', 'Lot ' || lots.lot, lots.beer, 'tank ' || lots.vessel, lots.site) as page,
    lots.site, lots.lot, lots.beer, lots.vessel, concat_ws(', ', flows.from_brews, flows.from_tanks) as filled_from,
    flows.went_to, yeasts.yeast, lots.opened_on, lots.emptied_on,
    date_diff('day', lots.opened_on, coalesce(lots.emptied_on, last_month.last_day)) as days,
    usual_days(lots.stage, lots.style) as usual_days,
    worts.original_plato, gravities.last_plato,
    case when worts.original_plato > 0
        then 100 * (worts.original_plato - gravities.last_plato) / worts.original_plato end as attenuation_pct,
    case when worts.original_plato is not null and gravities.last_plato is not null
        then greatest(alcohol_by_volume(worts.original_plato, gravities.last_plato), 0) end as abv_pct,
    coalesce(flows.in_bbl, 0) as in_bbl, coalesce(flows.drawn_bbl, 0) as drawn_bbl,
    case when lots.emptied_on is null then coalesce(flows.in_bbl, 0) - coalesce(flows.drawn_bbl, 0) end as in_hand_bbl,
    losses.loss_bbl, losses.reading_error_bbl, percent(losses.loss_bbl, losses.volume_in_bbl) as loss_pct, losses.allowed_bbl,
    losses.hop_allowed_bbl, losses.hops_lb, 2 * losses.loss_bbl as half_barrels, losses.loss_cost,
    case when lots.emptied_on is null then 'in the tank' else verdict(losses.loss_bbl, losses.reading_error_bbl) end as verdict
from result.lots as lots
cross join last_month
left join flows using (site, lot)
left join worts using (site, lot)
left join yeasts using (site, lot)
left join gravities using (site, lot)
-- A closed month keeps the loss of a lot that a later record lets be emptied in another.
left join result.stage_losses as losses on losses.site = lots.site and losses.lot = lots.lot
    and losses.month = strftime(lots.emptied_on, '%Y-%m');
