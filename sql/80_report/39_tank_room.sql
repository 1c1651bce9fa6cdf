-- table: report.tank_room
-- grain: one kind of tank in a month
-- key: month, kind
-- units: tanks; days of tanks; a tank emptied and filled on one day is used on that day once
-- reads: record.vessels, result.lots, report.months
-- rule: M7
-- source: none; presentation

create table report.tank_room (
    month text not null,
    kind text not null,
    tanks bigint not null,
    tank_days bigint not null,
    used_days bigint not null,
    free_days bigint not null,
    used_pct decimal(18,6),
    held_at_end bigint not null,
    free_at_end bigint not null,
    primary key (month, kind)
);

insert into report.tank_room by name
with
days as (
    select distinct lots.site, lower(lots.vessel) as vessel, months.month,
        unnest(generate_series(
            greatest(lots.opened_on, months.first_day),
            least(coalesce(lots.emptied_on, months.last_day), months.last_day), interval 1 day
        ))::date as day
    from result.lots
    join report.months on lots.opened_on <= months.last_day
        and coalesce(lots.emptied_on, months.last_day) >= months.first_day
    where lots.vessel is not null
),
used as (
    select site, vessel, month, count(*) as used_days from days group by site, vessel, month
),
held as (
    select distinct lots.site, lower(lots.vessel) as vessel, months.month
    from result.lots
    join report.months on lots.opened_on <= months.last_day
        and coalesce(lots.emptied_on > months.last_day, true)
)
select months.month, replace(vessels.kind, '_', ' ') as kind, count(*) as tanks,
    sum(months.last_day - months.first_day + 1) as tank_days,
    coalesce(sum(used.used_days), 0) as used_days,
    sum(months.last_day - months.first_day + 1) - coalesce(sum(used.used_days), 0) as free_days,
    percent(coalesce(sum(used.used_days), 0), sum(months.last_day - months.first_day + 1)) as used_pct,
    count(held.vessel) as held_at_end,
    count(*) - count(held.vessel) as free_at_end
from report.months
join record.vessels on vessels.kind in ('fermenter', 'bright_tank')
left join used on used.month = months.month and used.site = vessels.site and used.vessel = lower(vessels.vessel)
left join held on held.month = months.month and held.site = vessels.site and held.vessel = lower(vessels.vessel)
group by months.month, vessels.kind;
