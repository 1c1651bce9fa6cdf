-- table: record.credits
-- grain: one credit without goods
-- key: document, account, beer, package
-- units: money
-- reads: given_credits
-- rule: M1
-- source: kinds.toml

create table record.credits (
    file text not null,
    sheet text,
    row bigint not null,
    document text not null,
    date date not null,
    account text not null,
    beer text,
    package text,
    original_document text,
    amount decimal(18,6) not null,
    reason text
);

insert into record.credits by name
select
    given.file,
    given.sheet,
    given.row,
    given.document,
    given.date,
    given.account,
    given.beer,
    given.package,
    given.original_document,
    given.amount,
    given.reason
from given_credits as given
where given.accepted;
