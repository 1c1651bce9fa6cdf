-- table: record.filings
-- grain: one duty return as filed
-- key: area, site, period
-- units: the area's own unit; money
-- reads: given_filings
-- rule: X10
-- source: kinds.toml

create table record.filings (
    file text not null,
    sheet text,
    row bigint not null,
    area text not null,
    site text,
    period text not null,
    filed_on date not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null,
    serial text
);

insert into record.filings by name
select
    given.file,
    given.sheet,
    given.row,
    given.area,
    given.site,
    given.period,
    given.filed_on,
    given.quantity,
    given.amount,
    given.serial
from given_filings as given
where given.accepted;
