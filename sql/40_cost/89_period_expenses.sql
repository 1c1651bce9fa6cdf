-- table: cost.period_expenses
-- grain: one expense of the month that is in no stock
-- key: month, site, kind, detail
-- units: money
-- reads: cost.expense_parts
-- rule: C1 to C4, C6 to C8, C10, C11, C14
-- source: IAS 2 paragraphs 13 and 16; ASC 330-10-35

create table cost.period_expenses (
    month text not null,
    site text not null,
    kind text not null,
    detail text not null,
    amount decimal(18,6) not null
);

insert into cost.period_expenses by name
select month, site, kind, detail, sum(amount) as amount
from cost.expense_parts
group by month, site, kind, detail
having sum(amount) <> 0;
