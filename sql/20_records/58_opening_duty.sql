-- table: record.opening_duty
-- grain: one period of duty before the books
-- key: area, site, period
-- units: bbl; money
-- reads: given_opening_duty
-- rule: X10
-- source: kinds.toml

create table record.opening_duty (
    file text not null,
    sheet text,
    row bigint not null,
    area text not null,
    site text,
    period text not null,
    removed_bbl decimal(18,6) not null,
    tax_accrued decimal(18,6) not null,
    tax_paid decimal(18,6) not null,
    tax_remitted decimal(18,6) not null,
    tax_last_year decimal(18,6) not null
);

insert into record.opening_duty by name
select
    given.file,
    given.sheet,
    given.row,
    given.area,
    given.site,
    given.period,
    given.removed_bbl,
    given.tax_accrued,
    given.tax_paid,
    given.tax_remitted,
    given.tax_last_year
from given_opening_duty as given
where given.accepted;
