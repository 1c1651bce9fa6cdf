-- table: report.lot_gravities
-- grain: one gravity of one lot on a day
-- key: site, lot, date
-- units: degrees Plato; days since the lot was filled. usual: the median of the same beer's gravities in other lots at the
--   site at the same age, give or take a day, read in the year before this one
-- reads: result.lot_readings
-- rule: U3
-- source: none; presentation

create table report.lot_gravities (
    site text not null,
    lot text not null,
    date date not null,
    age_days bigint not null,
    plato decimal(18,6) not null,
    usual_plato decimal(18,6),
    gap_plato decimal(18,6),
    primary key (site, lot, date)
);

insert into report.lot_gravities by name
with
read as (
    select site, lot, date, any_value(beer) as beer, any_value(stage) as stage, any_value(age_days) as age_days,
        min(plato) as plato
    from result.lot_readings
    where plato is not null
    group by site, lot, date
),
near as (
    select *, unnest([age_days - 1, age_days, age_days + 1]) as near_days
    from read
),
usual as (
    select read.site, read.lot, read.date, median(past.plato) as usual_plato
    from read
    join near as past on past.site = read.site and past.beer = read.beer and past.stage = read.stage
        and past.near_days = read.age_days and past.lot <> read.lot and past.date < read.date and past.date >= read.date - 365
    group by read.site, read.lot, read.date
)
select read.site, read.lot, read.date, read.age_days, read.plato, usual.usual_plato,
    read.plato - usual.usual_plato as gap_plato
from read
left join usual using (site, lot, date);
