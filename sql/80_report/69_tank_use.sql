-- table: report.tank_use
-- grain: one tank in one month
-- key: month, site, vessel
-- units: days (first and last included); %; late_lots: emptied this month after more than the usual days
-- reads: report.months, result.vessels, result.lots
-- rule: C3 (tank_days)
-- source: a week for ales and two for lagers: common practice, no source

create table report.tank_use (
    month text not null,
    place bigint not null,
    site text not null,
    vessel text not null,
    kind text not null,
    working_volume_bbl decimal(18,6) not null,
    days_in_month bigint not null,
    days_held bigint not null,
    used_pct decimal(18,6),
    lots_emptied_count bigint not null,
    days_a_lot decimal(18,6),
    usual_days_a_lot decimal(18,6),
    late_lots_count bigint not null,
    primary key (month, site, vessel)
);

insert into report.tank_use by name
with
stays as (
    select months.month, lots.site, lots.vessel, lots.lot,
        date_diff('day', greatest(lots.opened_on, months.first_day), least(coalesce(lots.emptied_on, months.last_day), months.last_day))
            + 1 as days_held,
        lots.emptied_on between months.first_day and months.last_day as emptied,
        date_diff('day', lots.opened_on, lots.emptied_on) as days,
        usual_days(lots.stage, lots.style) as usual_days
    from report.months as months
    join result.lots as lots on lots.opened_on <= months.last_day
        and coalesce(lots.emptied_on >= months.first_day, true)
)
select
    months.month,
    row_number() over (
        partition by months.month order by vessels.site, vessels.kind desc, length(vessels.vessel), vessels.vessel
    ) as place,
    vessels.site, vessels.vessel, replace(vessels.kind, '_', ' ') as kind, vessels.working_volume_bbl,
    date_diff('day', months.first_day, months.last_day) + 1 as days_in_month,
    -- A day on which one lot leaves and the next comes in is one day of the tank.
    coalesce(least(sum(stays.days_held), any_value(date_diff('day', months.first_day, months.last_day) + 1)), 0) as days_held,
    percent(least(sum(stays.days_held), any_value(date_diff('day', months.first_day, months.last_day) + 1)),
        any_value(date_diff('day', months.first_day, months.last_day) + 1)) as used_pct,
    count(*) filter (where stays.emptied) as lots_emptied_count,
    avg(stays.days) filter (where stays.emptied) as days_a_lot,
    avg(stays.usual_days) filter (where stays.emptied) as usual_days_a_lot,
    count(*) filter (where stays.emptied and stays.days > stays.usual_days) as late_lots_count
from report.months as months
cross join result.vessels as vessels
left join stays on stays.month = months.month and stays.site = vessels.site and stays.vessel = vessels.vessel
where vessels.kind <> 'kettle'
group by months.month, months.first_day, months.last_day, vessels.site, vessels.vessel, vessels.kind, vessels.working_volume_bbl;
