-- table: result.account_months
-- grain: one account in a month
-- key: month, role, area
-- units: money, debit positive
-- reads: result.journal, record.months, record.opening_materials, record.opening_lots, record.opening_goods,
--   record.opening_duty, reference.chart, reference.settings, result.kegs_out, record.accounts
-- rule: K6, K9
-- source: opening + debit - credit = closing. The opening balances of the books are the three stocks, the duty owed and the
--   deposits of kegs that were out; every
--   other account begins at nothing, so that it shows what these books posted and not the ledger's balance

create table result.account_months (
    month text not null,
    role text not null,
    area text,
    account text not null,
    account_name text not null,
    rolled boolean not null,
    opening decimal(18,6) not null,
    debit decimal(18,6) not null,
    credit decimal(18,6) not null,
    closing decimal(18,6) not null,
    unique (month, role, area)
);

insert into result.account_months by name
with
opened as (
    select 'materials' as role, null as area, sum(cost) as amount from record.opening_materials
    union all by name
    select 'process' as role, null as area, sum(cost_ingredients + cost_labour + cost_overhead) as amount
    from record.opening_lots
    union all by name
    select 'goods' as role, null as area, sum(cost) as amount from record.opening_goods
    union all by name
    select 'duty_payable' as role, area, -sum(coalesce(tax_accrued, 0) - coalesce(tax_paid, 0)) as amount
    from record.opening_duty
    group by area
    union all by name
    select 'keg_deposits' as role, null as area, -sum(kegs.opening_units * kegs.deposit) as amount
    from result.kegs_out as kegs
    join reference.settings on settings.first_month = kegs.month
    left join record.accounts using (account)
    where accounts.ownership is distinct from 'same_entity'
),
accounts as (
    select role, area, account, account_name from result.journal
    union
    select opened.role, opened.area, account_of(chart.account, chart_areas.account, opened.area) as account,
        concat_ws(' ', chart.name, opened.area) as account_name
    from opened
    join reference.chart using (role)
    left join reference.chart_areas on chart_areas.role = opened.role and chart_areas.area = opened.area
    where opened.amount <> 0
),
monthly as (
    select month, role, area, sum(debit) as debit, sum(credit) as credit from result.journal group by month, role, area
),
filled as (
    select months.month, accounts.*, coalesce(monthly.debit, 0) as debit, coalesce(monthly.credit, 0) as credit,
        coalesce(opened.amount, 0) as opened
    from accounts
    cross join record.months
    left join monthly on monthly.month = months.month and monthly.role = accounts.role
        and monthly.area is not distinct from accounts.area
    left join opened on opened.role = accounts.role and opened.area is not distinct from accounts.area
)
select
    filled.month, role, filled.area, filled.account, filled.account_name, chart.rolled, filled.debit, filled.credit,
    opened + sum(debit - credit) over so_far - debit + credit as opening,
    opened + sum(debit - credit) over so_far as closing
from filled
join reference.chart using (role)
window so_far as (partition by role, area order by month);
