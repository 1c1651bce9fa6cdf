-- table: record.ledger
-- grain: one balance of the general ledger
-- key: month, account
-- units: money
-- reads: given_ledger
-- rule: K6
-- source: kinds.toml

create table record.ledger (
    file text not null,
    sheet text,
    row bigint not null,
    month text not null,
    account text not null,
    balance decimal(18,6) not null
);

insert into record.ledger by name
select
    given.file,
    given.sheet,
    given.row,
    given.month,
    given.account,
    given.balance
from given_ledger as given
where given.accepted;
