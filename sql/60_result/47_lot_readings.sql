-- table: result.lot_readings
-- grain: one dip or gravity of a lot on the way
-- key: none
-- units: bbl, degrees Plato; age_days since the lot's first inflow
-- reads: volume.readings, volume.lots
-- rule: U3
-- source: records

create table result.lot_readings (
    month text not null,
    date date not null,
    site text not null,
    lot text not null,
    beer text,
    stage text not null,
    vessel text,
    age_days bigint not null,
    volume_bbl decimal(18,6),
    plato decimal(18,6)
);

insert into result.lot_readings by name
select month_of(readings.date) as month, readings.date, readings.site, readings.lot, lots.beer, lots.stage, lots.vessel,
    date_diff('day', lots.opened_on, readings.date) as age_days, readings.volume_bbl, readings.plato
from volume.readings
join volume.lots using (site, lot);
