-- table: result.profit_months
-- grain: one month, from what margins and period expenses leave to the journal's accounts of income and expense
-- key: month
-- units: money, what adds to the profit positive
-- reads: result.margins, result.period_expenses, result.journal, record.accounts, record.months, reference.chart
-- rule: C11a, K12
-- source: left_over = margin - period expenses, blank where a price is missing; own_houses takes the transfer price out, which is
--   no sale, and adds what the houses still hold; not_sold is the duty and freight of beer that is a period expense; other are
--   deposits kept, and interest and penalties on duty; corrections are those of closed months. Added up they are the profit (K12)

create table result.profit_months (
    month text primary key,
    left_over decimal(18,6),
    own_houses decimal(18,6),
    not_sold decimal(18,6) not null,
    other decimal(18,6) not null,
    corrections decimal(18,6) not null,
    profit decimal(18,6) not null
);

insert into result.profit_months by name
with
sold as (
    select margins.month, sum(margins.duty + margins.freight) as duty_and_freight,
        case when count(margins.margin) = count(*) then sum(margins.margin) end as margin,
        case when count(margins.margin) = count(*) then coalesce(sum(margins.revenue) filter (
            where accounts.ownership = 'same_entity'), 0) end as transfers
    from result.margins
    left join record.accounts on accounts.account = margins.account
    group by margins.month
),
expensed as (
    select month, sum(amount) as amount from result.period_expenses group by month
),
posted as (
    select journal.month, journal.role, journal.kind, sum(journal.credit - journal.debit) as amount
    from result.journal
    join reference.chart on chart.role = journal.role and chart.of_profit
    group by journal.month, journal.role, journal.kind
),
accounts as (
    select month, sum(amount) as profit,
        coalesce(sum(amount) filter (where kind = 'corrections'), 0) as corrections,
        coalesce(sum(amount) filter (where kind = 'stock at own houses'), 0) as houses_hold,
        coalesce(sum(amount) filter (where kind <> 'corrections' and role in ('duty', 'freight_out')), 0) as duty_and_freight,
        coalesce(sum(amount) filter (where kind <> 'corrections' and role in ('deposits_kept', 'duty_interest')), 0) as other
    from posted
    group by month
)
select months.month,
    case when sold.month is null then 0 else sold.margin end - coalesce(expensed.amount, 0) as left_over,
    case when sold.month is null then 0 else -sold.transfers end + coalesce(accounts.houses_hold, 0) as own_houses,
    coalesce(accounts.duty_and_freight, 0) + coalesce(sold.duty_and_freight, 0) as not_sold,
    coalesce(accounts.other, 0) as other,
    coalesce(accounts.corrections, 0) as corrections,
    coalesce(accounts.profit, 0) as profit
from record.months
left join sold using (month)
left join expensed using (month)
left join accounts using (month);
