-- table: record.prices
-- grain: one price from one day on
-- key: from_date, beer, package, account, account_kind
-- units: price of one package; retail price of one glass (of bottled goods: of one container)
-- reads: given_prices
-- rule: M1
-- source: kinds.toml

create table record.prices (
    file text not null,
    sheet text,
    row bigint not null,
    from_date date not null,
    beer text not null,
    package text not null,
    unit_price decimal(18,6) not null,
    retail_price decimal(18,6),
    account text,
    account_kind text
);

insert into record.prices by name
select
    given.file,
    given.sheet,
    given.row,
    given.from_date,
    given.beer,
    given.package,
    given.unit_price,
    given.retail_price,
    given.account,
    given.account_kind
from given_prices as given
where given.accepted;
