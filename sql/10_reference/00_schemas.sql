-- table: schemas
-- grain: the rooms of the database, in the order in which data passes through them
-- key: none
-- units: none
-- reads: nothing
-- rule: none
-- source: the way of the data, DEVELOPERS.md

create schema if not exists reference;
create schema if not exists record;
create schema if not exists volume;
create schema if not exists cost;
create schema if not exists excise;
create schema if not exists result;
create schema if not exists closing;
create schema if not exists control;
create schema if not exists report;
