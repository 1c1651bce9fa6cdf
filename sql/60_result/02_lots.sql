-- table: result.lots
-- grain: one lot
-- key: site, lot
-- units: none
-- reads: volume.lots
-- rule: V2
-- source: records

create table result.lots (
    lot text not null,
    site text not null,
    beer text,
    style text,
    stage text not null,
    vessel text,
    opened_on date not null,
    emptied_on date,
    primary key (site, lot)
);

insert into result.lots by name
select lot, site, beer, style, stage, vessel, opened_on, emptied_on
from volume.lots;
