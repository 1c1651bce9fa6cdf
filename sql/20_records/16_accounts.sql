-- table: record.accounts
-- grain: one account
-- key: account
-- units: none
-- reads: given_accounts
-- rule: C11a
-- source: kinds.toml

create table record.accounts (
    file text not null,
    sheet text,
    row bigint not null,
    account text not null,
    kind text not null,
    ownership text not null,
    area text
);

insert into record.accounts by name
select
    given.file,
    given.sheet,
    given.row,
    given.account,
    given.kind,
    coalesce(given.ownership, case when given.kind = 'own_location' then 'same_entity' else 'outside' end) as ownership,
    given.area
from given_accounts as given
where given.accepted;
