-- table: report.tanks_today
-- grain: one tank on the day on which a month's workbook shows the cellar
-- key: month, place
-- units: bbl, days, degrees Plato; kegs of 15.5 gal, after the usual losses still to come. gravity_gap: against the median of that beer's
--   earlier lots at the same age, give or take a day
-- reads: report.cellar_days, result.vessels, result.lots, result.lot_months, volume.readings, result.usual_losses,
--   result.chain_readings, report.lot_gravities, report.loss_findings
-- rule: V7, V10
-- source: a week for ales and two for lagers: common practice, no source

create table report.tanks_today (
    month text not null,
    as_of text not null,
    place bigint not null,
    site text not null,
    vessel text not null,
    lot text,
    beer text,
    day_number bigint,
    usual_days bigint,
    plato decimal(18,6),
    plato_on date,
    usual_plato decimal(18,6),
    gravity_gap_plato decimal(18,6),
    in_hand_bbl decimal(18,6),
    dip_bbl decimal(18,6),          -- the last dip
    dipped_on date,
    reading_error_bbl decimal(18,6),
    kegs_to_expect decimal(18,6),
    reading_to_take text not null,
    primary key (month, place)
);

insert into report.tanks_today by name
with
held as (
    select days.month, days.day as last_day, lots.*, lot_months.closing_bbl,
        date_diff('day', lots.opened_on, days.day) as day_number,
        usual_days(lots.stage, lots.style) as usual_days
    from report.cellar_days as days
    join result.lot_months as lot_months on lot_months.month = days.month
    join result.lots as lots on lots.site = lot_months.site and lots.lot = lot_months.lot
        and coalesce(lots.emptied_on > days.day, true)
),
gravity as (
    select held.month, held.site, held.lot, read.plato, read.date as plato_on, read.usual_plato, read.gap_plato
    from held
    join report.lot_gravities as read on read.site = held.site and read.lot = held.lot and read.date <= held.last_day
    qualify row_number() over (partition by held.month, held.site, held.lot order by read.date desc) = 1
),
-- How well the book volume is known: a reading for each flow so far; the root of their squares.
flows as (
    select held.month, held.site, held.lot, root_sum_square(flow.tolerance_bbl) as reading_error_bbl
    from held
    join (
        select distinct site, lot, reading, date, tolerance_bbl
        from result.chain_readings
        where reading <> 'usual loss' and (reading like '%, into the fermenter' or reading like '%, in'
            or reading like '%, out' or reading like '%, drawn' or reading = 'opening volume')
    ) as flow on flow.site = held.site and flow.lot = held.lot and flow.date <= held.last_day
    group by held.month, held.site, held.lot
),
dips as (
    select held.month, held.site, held.lot, max(readings.date) as dipped_on,
        arg_max(readings.volume_bbl, (readings.date, readings.file, readings.row)) as dip_bbl
    from held
    join volume.readings on readings.site = held.site and readings.lot = held.lot
        and readings.date <= held.last_day and readings.volume_bbl is not null
    group by held.month, held.site, held.lot
),
to_come as (
    select held.month, held.site, held.lot,
        exp(sum(ln(greatest(1 - usual.usual_pct::double / 100, 0.01)))) as good_share
    from held
    join result.usual_losses as usual on usual.site = held.site and usual.beer is null
        and (usual.stage in ('bright_tank', 'packaging') or held.stage = 'fermenter' and usual.stage in ('fermenter', 'transfer'))
    group by held.month, held.site, held.lot
)
select
    months.month,
    months.said as as_of,
    row_number() over (
        partition by months.month order by vessels.site, vessels.kind desc, length(vessels.vessel), vessels.vessel, held.opened_on, held.lot
    ) as place,
    vessels.site, vessels.vessel, held.lot, held.beer, held.day_number, held.usual_days,
    gravity.plato, gravity.plato_on, gravity.usual_plato, gravity.gap_plato as gravity_gap_plato,
    held.closing_bbl as in_hand_bbl, dips.dip_bbl, dips.dipped_on,
    coalesce(flows.reading_error_bbl, case when held.lot is not null then vessels.tolerance_bbl end) as reading_error_bbl,
    2 * held.closing_bbl::double * coalesce(to_come.good_share, 1) as kegs_to_expect,
    case
        when held.lot is null then 'empty'
        when findings.what like '%reads%' then 'dip, and check the dipstick: this tank ' || findings.what
        when held.stage = 'fermenter' and gravity.plato_on is null then 'gravity: none was read yet'
        when held.stage = 'fermenter' and held.day_number <= held.usual_days
            and held.last_day - gravity.plato_on > 2
            then 'gravity: last read ' || (held.last_day - gravity.plato_on) || ' days ago, still fermenting'
        when held.stage = 'fermenter' and gravity.gap_plato > 0.5
            then 'gravity again: ' || gravity.gap_plato::decimal(9,1) || ' degrees above its usual curve'
        when held.day_number > 2 * held.usual_days then 'taste and dip: ' || held.day_number || ' days in the tank'
        when held.stage = 'fermenter' and held.day_number > held.usual_days then 'gravity: ready to move?'
        when dips.dipped_on is null or held.last_day - dips.dipped_on > 7
            then 'dip: the book knows it to ±' || coalesce(flows.reading_error_bbl, vessels.tolerance_bbl)::decimal(9,2) || ' bbl'
        else 'none needed'
    end as reading_to_take
from report.cellar_days as months
join result.vessels as vessels on vessels.kind <> 'kettle'
left join held on held.month = months.month and held.site = vessels.site and held.vessel = vessels.vessel
left join gravity on gravity.month = held.month and gravity.site = held.site and gravity.lot = held.lot
left join flows on flows.month = held.month and flows.site = held.site and flows.lot = held.lot
left join dips on dips.month = held.month and dips.site = held.site and dips.lot = held.lot
left join to_come on to_come.month = held.month and to_come.site = held.site and to_come.lot = held.lot
left join report.loss_findings as findings on findings.month = months.month and findings.site = vessels.site
    and findings.level = vessels.vessel;
