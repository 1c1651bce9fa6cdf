-- table: record.empties
-- grain: one movement of empty packages
-- key: none
-- units: packages
-- reads: given_empties
-- rule: none
-- source: kinds.toml

create table record.empties (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    account text not null,
    package text not null,
    units bigint not null,
    outcome text not null
);

insert into record.empties by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.account,
    given.package,
    given.units,
    given.outcome
from given_empties as given
where given.accepted;
