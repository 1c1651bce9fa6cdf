-- table: closing.months
-- grain: one closed month
-- key: month
-- units: none
-- reads: given_closed_months
-- rule: none
-- source: the folder closed/, written by `brewcost close`

create table closing.months (
    month text primary key,
    closed_at text not null,
    closed_by text not null,
    version text not null,
    inputs_hash text not null,
    areas_hash text not null
);

insert into closing.months by name
select month, closed_at, closed_by, version, inputs_hash, areas_hash
from given_closed_months;
