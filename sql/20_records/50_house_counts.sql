-- table: record.house_counts
-- grain: one count of packages at an own house
-- key: date, account, beer, package
-- units: packages
-- reads: given_counts
-- rule: C11a, C16
-- source: kinds.toml

create table record.house_counts (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    counted_on date not null,
    account text not null,
    beer text not null,
    package text not null,
    units bigint not null
);

insert into record.house_counts by name
select file, sheet, row, date, coalesce(counted_on, date) as counted_on, account, beer, package,
    quantity::bigint as units
from given_counts
where accepted and account is not null;
