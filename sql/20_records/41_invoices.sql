-- table: record.invoices
-- grain: one line of a supplier's invoice
-- key: none
-- units: money
-- reads: given_invoices
-- rule: C1
-- source: kinds.toml

create table record.invoices (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    document text not null,
    receipt_document text not null,
    material text not null,
    cost decimal(18,6) not null,
    freight decimal(18,6)
);

insert into record.invoices by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.document,
    given.receipt_document,
    given.material,
    given.cost,
    given.freight
from given_invoices as given
where given.accepted;
