-- table: reference.chart_areas
-- grain: one role's account for one tax area, where brewery.toml gives it a number of its own
-- key: role, area
-- units: none
-- reads: given_chart_areas
-- rule: K6
-- source: brewery.toml [accounts]

create table reference.chart_areas (
    role text not null,
    area text not null,
    account text not null,
    primary key (role, area)
);

insert into reference.chart_areas by name
select role, area, account
from given_chart_areas;
