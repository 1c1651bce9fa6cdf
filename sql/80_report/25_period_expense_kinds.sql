-- table: report.period_expense_kinds
-- grain: one kind of period expense of one month
-- key: month, kind
-- units: the books' currency
-- reads: result.period_expenses
-- rule: C3, C6, C11
-- source: none; presentation

create table report.period_expense_kinds (
    month text not null,
    kind text not null,
    entries_count bigint not null,
    amount decimal(18,6) not null,
    primary key (month, kind)
);

insert into report.period_expense_kinds by name
select month, kind, count(*) as entries_count, sum(amount) as amount
from result.period_expenses
group by month, kind;
