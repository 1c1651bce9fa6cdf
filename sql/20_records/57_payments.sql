-- table: record.payments
-- grain: one payment of duty
-- key: none
-- units: money
-- reads: given_payments
-- rule: X10
-- source: kinds.toml

create table record.payments (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    area text not null,
    site text,
    period text not null,
    amount decimal(18,6) not null,
    interest decimal(18,6) not null,
    penalty decimal(18,6) not null
);

insert into record.payments by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.area,
    given.site,
    given.period,
    given.amount,
    given.interest,
    given.penalty
from given_payments as given
where given.accepted;
