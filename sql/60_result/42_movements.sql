-- table: result.movements
-- grain: one amount that goes from one account to another
-- key: none
-- units: money
-- reads: cost.material_moves, record.receipts, record.invoices, record.labour, record.expenses, record.byproducts,
--   cost.charges, cost.pool_months, record.beer_in, cost.run_costs, cost.expense_parts, cost.draw_costs, volume.moves,
--   volume.lots, cost.shipment_costs, cost.goods_moves, cost.prices, record.accounts, record.returns, record.credits,
--   record.shipments, record.moves, record.packaging, excise.duty_months, record.payments, record.months, cost.house_moves,
--   result.keg_moves
-- rule: K6, C11a
-- source: each movement names the account it enters and the one it leaves, so the journal cannot but balance. Labour,
--   expenses and by-products pass through an account of their own, which ends each month at nothing. A receipt stands in
--   goods received not invoiced for as much of its cost as an invoice of its own brings. Beer that own houses still hold
--   (own_houses = counted) is taken off what was expensed on delivery. The deposit of a keg is owed until it comes back; of one
--   that is lost it is kept. from_kind, from_key: what flowed into it, as in result.cost_flows; else the record is all of it

create table result.movements (
    month text not null,
    date date not null,
    site text,
    kind text not null,
    document text not null,
    text text not null,
    debit text not null,
    credit text not null,
    area text,
    amount decimal(18,6) not null,
    from_kind text,
    from_key text,
    file text,
    sheet text,
    row bigint
);

insert into result.movements by name
with
owners as (
    select account, ownership = 'same_entity' as own from record.accounts
),
expense_roles as (
    select * from (values
        ('idle capacity', 'idle_capacity'), ('abnormal loss', 'abnormal_loss'), ('period pool', 'period_pools'),
        ('unshared', 'unshared'), ('warehouse labour', 'warehouse_labour')
    ) as roles (kind, role)
),
receipts as (
    select
        moves.month, moves.date, moves.site, moves.material,
        coalesce(receipts.document, '') as document,
        moves.cost_in, moves.file, moves.sheet, moves.row,
        case when receipts.estimated then 0 else coalesce(receipts.cost, 0) + receipts.freight end as own_cost
    from cost.material_moves as moves
    join record.receipts on receipts.file = moves.file and receipts.sheet is not distinct from moves.sheet
        and receipts.row = moves.row
    where moves.kind = 'receipt'
),
movements as (
    -- Materials come in.
    select month, date, site, 'receipts' as kind, document, material as text, 'materials' as debit, 'payables' as credit,
        own_cost as amount, file, sheet, row
    from receipts
    union all by name
    select month, date, site, 'receipts' as kind, document, material as text, 'materials' as debit,
        'received_not_invoiced' as credit, cost_in - own_cost as amount, file, sheet, row
    from receipts
    union all by name
    select month_of(date) as month, date, 'invoices' as kind, document, material as text,
        'received_not_invoiced' as debit, 'payables' as credit, cost + coalesce(freight, 0) as amount, file, sheet, row
    from record.invoices
    union all by name
    -- Materials are used, sold, counted.
    select month, date, site, 'uses' as kind, '' as document, material as text,
        case
            when account is not null then 'material_sold'
            when pool is not null then 'overhead'
            when charged then 'process'
            else 'unshared'
        end as debit,
        'materials' as credit, amount, 'use' as from_kind, item || ' ' || seq as from_key, file, sheet, row
    from cost.charges
    where source = 'use'
    union all by name
    select month, date, site, 'uses' as kind, '' as document, material as text, 'receivables' as debit,
        'material_sold' as credit, income as amount, file, sheet, row
    from cost.charges
    where account is not null
    union all by name
    select month, date, site, 'short stock' as kind, '' as document, material as text, 'materials' as debit,
        'short_stock' as credit, short_cost as amount, file, sheet, row
    from cost.material_moves
    union all by name
    select month, date, site, 'counts' as kind, '' as document, material as text, 'materials' as debit,
        'material_shrinkage' as credit, counted_cost as amount, file, sheet, row
    from cost.material_moves
    where kind = 'count'
    union all by name
    -- Labour, expenses and by-products, and where each of them goes.
    select month_of(date) as month, date, site, 'labour' as kind, '' as document, stage as text, 'labour' as debit,
        'wages_payable' as credit, coalesce(cost, 0) as amount, file, sheet, row
    from record.labour
    union all by name
    select month, null as date, site, 'expenses' as kind, '' as document, pool as text, 'overhead' as debit,
        'accrued_expenses' as credit, amount, file, sheet, row
    from record.expenses
    union all by name
    select month_of(date) as month, date, site, 'by-products' as kind, '' as document, kind as text,
        'receivables' as debit, 'by_products' as credit, income as amount, file, sheet, row
    from record.byproducts
    union all by name
    select month, date, site, 'labour' as kind, '' as document, stage as text,
        case when stage = 'warehouse' then 'warehouse_labour' when charged then 'process' else 'unshared' end as debit,
        'labour' as credit, amount, file, sheet, row
    from cost.charges
    where source = 'labour' and (name is not null or stage = 'warehouse')
    union all by name
    select month, null as date, site, 'overhead taken into process' as kind, '' as document, pool as text,
        'process' as debit,
        case kind when 'pool' then 'overhead' when 'labour' then 'labour' else 'by_products' end as credit,
        absorbed as amount, kind as from_kind, concat_ws(chr(31), pool, month, site) as from_key
    from cost.pool_months
    where outcome = 'shared'
    union all by name
    select pool_months.month, null as date, pool_months.site, 'overhead kept out of stock' as kind, '' as document,
        pool_months.pool as text, expense_roles.role as debit,
        case pool_months.kind when 'pool' then 'overhead' when 'labour' then 'labour' else 'by_products' end as credit,
        case when pool_months.outcome = 'shared' then pool_months.idle else pool_months.amount end as amount,
        pool_months.kind as from_kind, concat_ws(chr(31), pool_months.pool, pool_months.month, pool_months.site) as from_key
    from cost.pool_months
    join expense_roles on expense_roles.kind = case when pool_months.outcome = 'shared' then 'idle capacity'
        else pool_months.outcome end
    union all by name
    -- Beer comes in, is lost, drawn and packaged.
    select month_of(date) as month, date, site, 'beer received' as kind, coalesce(document, '') as document,
        beer as text, case when package is null then 'process' else 'goods' end as debit, 'payables' as credit,
        cost as amount, file, sheet, row
    from record.beer_in
    union all by name
    select month, null as date, site, 'losses' as kind, '' as document, detail as text, 'abnormal_loss' as debit,
        'process' as credit, amount, from_kind, from_key, file, sheet, row
    from cost.expense_parts
    where kind = 'abnormal loss'
    union all by name
    select moves.month, moves.date, moves.site, 'losses' as kind, '' as document, lots.beer || ', ' || moves.reason as text,
        'beer_not_sold' as debit, 'process' as credit, draw_costs.taken as amount,
        'lot' as from_kind, lots.lot as from_key, records.file, records.sheet, records.row
    from cost.draw_costs
    join volume.moves on draw_costs.kind = 'move' and moves.move = draw_costs.name
    join record.moves as records on records.move = moves.move
    join volume.lots on lots.site = moves.site and lots.lot = moves.from_lot
    where moves.reason in ('sample', 'destroyed')
    union all by name
    select costs.month, costs.date, costs.site, 'packaged' as kind, '' as document, costs.beer as text, 'goods' as debit,
        'process' as credit, costs.total_cost as amount, 'run' as from_kind, costs.run as from_key,
        records.file, records.sheet, records.row
    from cost.run_costs as costs
    join record.packaging as records using (run, line)
    union all by name
    -- Goods leave, come back, are counted.
    select costs.month, costs.date, costs.site, 'goods out' as kind, '' as document, costs.beer as text,
        case
            when not costs.of_goods_sold then 'beer_not_sold'
            when owners.own then 'own_deliveries'
            else 'cost_of_goods_sold'
        end as debit,
        case when costs.kind = 'serving_tank' then 'process' else 'goods' end as credit,
        costs.cost as amount,
        case costs.kind when 'shipment' then 'shipment' when 'serving_tank' then 'move' end as from_kind,
        case when costs.kind <> 'return' then costs.document end as from_key, costs.file, costs.sheet, costs.row
    from cost.shipment_costs as costs
    left join owners using (account)
    union all by name
    select month, date, site, 'short stock' as kind, '' as document, beer as text, 'goods' as debit,
        'short_stock' as credit, short_cost as amount, file, sheet, row
    from cost.goods_moves
    union all by name
    select month, date, site, 'counts' as kind, '' as document, beer as text, 'goods' as debit,
        'stock_shortage' as credit, cost as amount, file, sheet, row
    from cost.goods_moves
    where kind = 'count'
    union all by name
    -- Sales; a delivery within the same legal entity is none.
    select costs.month, costs.date, costs.site, 'sales' as kind, '' as document, coalesce(costs.account, costs.purpose) as text,
        'receivables' as debit, 'sales' as credit, coalesce(prices.revenue, 0) as amount,
        costs.file, costs.sheet, costs.row
    from cost.shipment_costs as costs
    join cost.prices using (kind, document, line)
    left join owners using (account)
    where costs.of_goods_sold and owners.own is distinct from true
    union all by name
    select month_of(returns.date) as month, returns.date, returns.site, 'credits' as kind, returns.document,
        coalesce(returns.account, '') as text, 'sales_credits' as debit, 'receivables' as credit, returns.credit as amount,
        returns.file, returns.sheet, returns.row
    from record.returns
    left join owners using (account)
    where owners.own is distinct from true
    union all by name
    select month_of(credits.date) as month, credits.date, null as site, 'credits' as kind, credits.document,
        coalesce(credits.account, '') as text, 'sales_credits' as debit, 'receivables' as credit, credits.amount,
        credits.file, credits.sheet, credits.row
    from record.credits
    left join owners using (account)
    where owners.own is distinct from true
    union all by name
    select month_of(date) as month, date, site, 'freight' as kind, '' as document, coalesce(account, purpose) as text,
        'freight_out' as debit, 'payables' as credit, freight as amount, file, sheet, row
    from record.shipments
    union all by name
    select month, null as date, null as site, 'stock at own houses' as kind, '' as document, account as text,
        'house_stock' as debit, 'own_deliveries' as credit, cost as amount, file, sheet, row
    from cost.house_moves
    union all by name
    -- Deposits; none within the same legal entity.
    select month_of(deposits.date) as month, null as date, null as site, 'keg deposits' as kind, '' as document,
        deposits.account as text,
        unnest(['receivables', 'keg_deposits', 'keg_deposits']) as debit,
        unnest(['keg_deposits', 'receivables', 'deposits_kept']) as credit,
        unnest([out_units, back_units, lost_units]) * deposits.deposit as amount,
        deposits.file, deposits.sheet, deposits.row
    from result.keg_moves as deposits
    left join owners using (account)
    where owners.own is distinct from true and deposits.deposit is not null
    union all by name
    -- Duty.
    select month, null as date, site, 'duty accrued' as kind, '' as document, area as text, 'duty' as debit,
        'duty_payable' as credit, area, amount, 'duty' as from_kind, concat_ws(chr(31), area, month, site) as from_key
    from excise.duty_months
    union all by name
    select month, null as date, site, 'duty paid' as kind, '' as document, area as text, 'duty_payable' as debit,
        'bank' as credit, area, paid as amount, 'paid' as from_kind, concat_ws(chr(31), area, month, site) as from_key
    from excise.duty_months
    union all by name
    select month_of(date) as month, date, site, 'duty paid' as kind, '' as document, area || ', ' || period as text,
        'duty_interest' as debit, 'bank' as credit, area, coalesce(interest, 0) + coalesce(penalty, 0) as amount,
        file, sheet, row
    from record.payments
)
select movements.* exclude (date), coalesce(movements.date, months.last_day) as date
from movements
join record.months using (month)
where movements.amount <> 0;
