-- table: reference.pool_normals
-- grain: one pool in one calendar month
-- key: pool, site, from_month, calendar_month
-- units: the driver's quantity in a month at normal capacity; money planned for the month, null where there is no budget
-- reads: given_pool_normals
-- rule: C3
-- source: brewery.toml

create table reference.pool_normals (
    pool text not null,
    site text,
    from_month text not null,
    calendar_month bigint not null,
    normal decimal(18,6) not null,
    budget decimal(18,6)
);

insert into reference.pool_normals by name
select pool, site, from_month, calendar_month, normal, budget
from given_pool_normals;
