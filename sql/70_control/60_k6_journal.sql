-- table: control.k6_journal
-- grain: one entry, or one account with the table it must agree with, in a month
-- key: month, subject
-- units: money
-- reads: result.journal, result.material_months, result.lot_months, result.goods_months,
--   result.margins, record.accounts, result.period_expenses, result.duty_months
-- rule: K6
-- source: debits = credits; each account agrees with its movement

create table control.k6_journal (
    month text not null,
    control text not null,
    subject text not null,
    expected decimal(18,6),
    actual decimal(18,6)
);

insert into control.k6_journal by name
with
-- A correction of closed months is no income or expense of its own month; in a stock it is part of the roll-forward.
accounts as (
    select month, role,
        sum(debit - credit) filter (
            where kind <> 'corrections' or role in ('materials', 'process', 'goods', 'duty_payable')
        ) as movement
    from result.journal
    group by month, role
),
movements as (
    select month, 'materials' as role, 'materials, movement of the month' as subject,
        sum(closing_cost - opening_cost) as amount
    from result.material_months
    group by month
    union all by name
    select month, 'process' as role, 'beer in process, movement of the month' as subject,
        sum(closing_cost - opening_cost) as amount
    from result.lot_months
    group by month
    union all by name
    select month, 'goods' as role, 'finished goods, movement of the month' as subject,
        sum(closing_cost - opening_cost) as amount
    from result.goods_months
    group by month
    union all by name
    select margins.month,
        case when accounts.ownership = 'same_entity' then 'own_deliveries' else 'cost_of_goods_sold' end as role,
        case when accounts.ownership = 'same_entity' then 'cost of beer to own locations' else 'cost of goods sold' end
            as subject,
        sum(margins.cost_of_goods_sold) as amount
    from result.margins
    left join record.accounts on accounts.account = margins.account
    group by all
    union all by name
    select month,
        case kind
            when 'idle capacity' then 'idle_capacity'
            when 'abnormal loss' then 'abnormal_loss'
            when 'material shrinkage' then 'material_shrinkage'
            when 'stock shortage' then 'stock_shortage'
            when 'period pool' then 'period_pools'
            when 'unshared' then 'unshared'
            when 'warehouse labour' then 'warehouse_labour'
            when 'material sold' then 'material_sold'
            else 'beer_not_sold'
        end as role,
        'period expenses, ' || role as subject, sum(amount) as amount
    from result.period_expenses
    group by all
    union all by name
    select month, 'duty_payable' as role, 'duty payable, movement of the month' as subject, sum(opening - owed) as amount
    from result.duty_months
    group by month
),
-- Net sales: the margins' revenue of every account outside the legal entity.
sold as (
    select margins.month, sum(coalesce(margins.revenue, 0)) as amount, count(*) = count(margins.revenue) as whole
    from result.margins
    left join record.accounts on accounts.account = margins.account
    where accounts.ownership is distinct from 'same_entity'
    group by margins.month
)
select month, 'K6' as control, 'debits and credits of entry ' || entry || ', ' || any_value(kind) as subject,
    sum(debit) as expected, sum(credit) as actual
from result.journal
group by month, entry
union all by name
select movements.month, 'K6' as control, movements.subject, movements.amount as expected,
    coalesce(accounts.movement, 0) as actual
from movements
left join accounts using (month, role)
union all by name
select month, 'K6' as control, role || ' shared out to the last' as subject, 0 as expected, movement as actual
from accounts
where role in ('labour', 'overhead', 'by_products')
union all by name
select sold.month, 'K6' as control, 'sales less credits' as subject, sold.amount as expected,
    coalesce((
        select -sum(accounts.movement) from accounts
        where accounts.month = sold.month and accounts.role in ('sales', 'sales_credits')
    ), 0) as actual
from sold
where sold.whole;
