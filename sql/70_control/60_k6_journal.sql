-- table: control.k6_journal
-- grain: one entry, or one account with the table it must agree with, in a month
-- key: month, subject
-- units: money
-- reads: result.journal, result.material_months, result.lot_months, result.goods_months, result.margins, record.accounts,
--   result.period_expenses, result.duty_months, result.house_stock_months, result.kegs_out, closing.months
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
            where kind <> 'corrections' or role in ('materials', 'process', 'goods', 'house_stock', 'duty_payable')
        ) as movement
    from result.journal
    group by month, role
),
-- Cost of goods sold by the margins; of deliveries to own houses what they still hold is taken off.
sold_costs as (
    select margins.month, coalesce(accounts.ownership, '') = 'same_entity' as own, margins.cost_of_goods_sold as cost
    from result.margins
    left join record.accounts on accounts.account = margins.account
    union all by name
    select month, true as own, opening_cost + correction_cost - closing_cost as cost
    from result.house_stock_months
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
    select month, case when own then 'own_deliveries' else 'cost_of_goods_sold' end as role,
        case when own then 'cost of beer to own locations' else 'cost of goods sold' end as subject, sum(cost) as amount
    from sold_costs
    group by month, own
    union all by name
    select month, 'house_stock' as role, 'stock at own houses, movement of the month' as subject,
        sum(closing_cost - opening_cost) as amount
    from result.house_stock_months
    group by month
    union all by name
    -- A closed month is as it was posted, while kegs out are as they are known now.
    select kegs.month, 'keg_deposits' as role, 'keg deposits, movement of the month' as subject,
        -sum((kegs.shipped_units - kegs.came_back_units - kegs.lost_units) * kegs.deposit) as amount
    from result.kegs_out as kegs
    left join record.accounts using (account)
    where kegs.deposit is not null and accounts.ownership is distinct from 'same_entity'
        and kegs.month not in (select month from closing.months)
    group by kegs.month
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
