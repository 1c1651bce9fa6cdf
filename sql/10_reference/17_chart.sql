-- table: reference.chart
-- grain: one account the journal posts to, or all areas' accounts of one role
-- key: role
-- units: none
-- reads: given_chart
-- rule: K6
-- source: brewery.toml [accounts], else the default chart

create table reference.chart (
    role text primary key,
    account text not null,
    name text not null,
    by_area boolean not null,
    rolled boolean not null,
    of_profit boolean not null
);

insert into reference.chart by name
select role, account, name, by_area, rolled, of_profit
from given_chart;
