-- table: report.duty_due
-- grain: one thing to file or pay that stands open at the end of a month: a return, a report of operations, a claim
-- key: month, what, area, site, period
-- units: money in currency
-- reads: report.months, result.returns, result.operations, excise.claims
-- rule: X4, X7, X8, X10
-- source: due dates as each area's file says; report of operations: the 15th day after its period (TTB F 5130.9, F 5130.26)

create table report.duty_due (
    month text not null,
    due_date date,
    what text not null,
    area text not null,
    site text not null,
    period text not null,
    from_date date,
    to_date date,
    tax decimal(18,6),
    adjustments decimal(18,6),
    to_pay decimal(18,6),
    paid decimal(18,6),
    left_to_pay decimal(18,6),
    discount decimal(18,6),
    currency text,
    state text not null
);

insert into report.duty_due by name
-- The returns this month belongs to, and earlier ones that are due after it began, or not settled.
select
    months.month, coalesce(returns.pay_date, returns.due_date) as due_date, 'return' as what,
    returns.area, returns.site, returns.period, returns.from_date, returns.to_date, returns.tax,
    returns.increasing + returns.interest - returns.decreasing as adjustments, returns.to_pay, returns.paid, returns.left_to_pay,
    returns.discount, returns.currency,
    concat_ws('; ',
        case
            when returns.filed_on is not null then 'filed on ' || returns.filed_on
            when returns.to_date > (select max(last_day) from report.months) then 'so far: the period is not over'
            when returns.due_date <= months.last_day then 'its day has passed and no filing is recorded'
            else 'to be filed'
        end,
        case when returns.due_date is null then 'due date not in the sources: ask the authority' end,
        case when returns.pay_date <> returns.due_date then 'the return itself is due on ' || returns.due_date end,
        case when returns.discount > 0 then 'discount ' || returns.discount_when end
    ) as state
from report.months as months
join result.returns as returns
    on returns.from_date <= months.last_day
    and (
        returns.to_date >= months.first_day
        or coalesce(returns.pay_date, returns.due_date) >= months.first_day
        or (returns.left_to_pay <> 0 and returns.filed_on is null)
    )
union all by name
select distinct
    months.month, (months.last_day + 15)::date as due_date,
    case when contains(operations.period, 'Q') then 'operations, quarter' else 'operations, month' end as what,
    'US' as area, operations.site, operations.period, null::date as from_date, months.last_day as to_date,
    case when contains(operations.period, 'Q') then 'where operations are reported by quarter'
        else 'where operations are reported by month' end as state
from report.months as months
join result.operations as operations
    on operations.period = months.month
    or (month(months.last_day) % 3 = 0
        and operations.period = strftime(months.last_day, '%Y') || '-Q' || quarter(months.last_day))
union all by name
select
    months.month, claims.claim_by as due_date, 'claim' as what, claims.area, claims.site,
    claims.document || ' line ' || claims.line as period, claims.date as from_date, claims.date as to_date,
    -claims.amount as tax, 'may be claimed until then: ' || claims.reason as state
from report.months as months
join excise.claims as claims on claims.date <= months.last_day and claims.claim_by >= months.first_day;
