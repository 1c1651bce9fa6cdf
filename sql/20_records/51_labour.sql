-- table: record.labour
-- grain: one entry of hours
-- key: none
-- units: hours
-- reads: given_labour
-- rule: C2, C4
-- source: kinds.toml

-- cost is null where a payroll pool prices the hours.
create table record.labour (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    stage text not null,
    hours decimal(18,6) not null,
    cost decimal(18,6),
    brew text,
    lot text,
    run text
);

insert into record.labour by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.stage,
    given.hours,
    given.cost,
    given.brew,
    given.lot,
    given.run
from given_labour as given
where given.accepted;
