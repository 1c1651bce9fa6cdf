-- table: record.expenses
-- grain: one expense of a month
-- key: none
-- units: money
-- reads: given_expenses
-- rule: C3
-- source: kinds.toml

create table record.expenses (
    file text not null,
    sheet text,
    row bigint not null,
    month text not null,
    site text not null,
    pool text not null,
    amount decimal(18,6) not null,
    estimated boolean not null
);

insert into record.expenses by name
select
    given.file,
    given.sheet,
    given.row,
    given.month,
    given.site,
    given.pool,
    given.amount,
    given.estimated
from given_expenses as given
where given.accepted;
