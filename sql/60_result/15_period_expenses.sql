-- table: result.period_expenses
-- grain: one expense of the month that is in no stock
-- key: month, site, kind, detail
-- units: money
-- reads: cost.period_expenses
-- rule: C1 to C14
-- source: IAS 2 paragraphs 13 and 16; ASC 330-10-35

create table result.period_expenses (
    month text not null,
    site text not null,
    kind text not null,
    detail text not null,
    amount decimal(18,6) not null,
    primary key (month, site, kind, detail)
);

insert into result.period_expenses by name
select month, site, kind, detail, amount
from cost.period_expenses;
