-- table: reference.sites
-- grain: one site
-- key: site
-- units: none
-- reads: given_sites
-- rule: none
-- source: brewery.toml

create table reference.sites (
    site text primary key,
    area text not null
);

insert into reference.sites by name
select site, area
from given_sites;
