-- table: report.return_lines
-- grain: one line of one return that a month belongs to or that is due in it
-- key: month, area, site, period, place
-- units: quantity in unit, rate per unit, amount in currency
-- reads: report.duty_due, excise.duty, excise.remissions, result.returns, excise.adjustments
-- rule: X6, X10
-- source: line numbers of TTB F 5000.24 for the United States; the other authorities' forms were not read

create table report.return_lines (
    month text not null,
    area text not null,
    site text not null,
    period text not null,
    due_date date,
    place bigint not null,
    form_line text,
    text text not null,
    quantity decimal(18,6),
    unit text,
    rate decimal(18,6),
    amount decimal(18,6),
    currency text not null
);

insert into report.return_lines by name
with shown as (
    select due.month, returns.*
    from report.duty_due as due
    join result.returns as returns
        on returns.area = due.area and returns.site = due.site and returns.period = due.period
    where due.what = 'return'
),
-- A remission says under the bands that it lowers how much of it the year has used up.
used as (
    select area, site, period, arg_max(remitted_to_date, month) as remitted
    from excise.remissions
    group by area, site, period
),
bands as (
    select shown.month, shown.area, shown.site, shown.period, shown.due_date, shown.currency,
        row_number() over (
            partition by shown.month, shown.area, shown.site, shown.period order by duty.rate is null, duty.band
        ) as place,
        case when shown.filed_on is null then '11' end as form_line,
        duty.band || case when duty.rate is null then '; so far ' || used.remitted::decimal(18,2) else '' end
            || case when shown.filed_on is not null then ' (as the records give it now)' else '' end as text,
        case when duty.unit is not null then duty.quantity end as quantity, duty.unit, duty.rate, duty.amount
    from shown
    join excise.duty as duty on duty.area = shown.area and duty.site = shown.site and duty.period = shown.period
    left join used on used.area = shown.area and used.site = shown.site and used.period = shown.period
),
sums as (
    select month, area, site, period, due_date, currency, unnest([
        {place: 1000, form_line: '17',
            text: case when filed_on is null then 'tax of the period' else 'tax as filed on ' || filed_on end, amount: tax},
        {place: 3000, form_line: '19', text: 'gross amount due', amount: tax + increasing + interest},
        {place: 5000, form_line: '21', text: 'to be paid', amount: to_pay},
        {place: 6000, form_line: null, text: 'discount, ' || coalesce(discount_when, 'none'), amount: -discount},
        {place: 7000, form_line: null, text: 'paid so far', amount: -paid},
        {place: 8000, form_line: null, text: 'left to pay, before any discount', amount: left_to_pay}
    ], recursive := true)
    from shown
),
adjusted as (
    select shown.month, shown.area, shown.site, shown.period, shown.due_date, shown.currency,
        case when adjustments.difference > 0 then 2000 else 4000 end
            + 2 * row_number() over (
                partition by shown.month, shown.area, shown.site, shown.period order by adjustments.period
            ) as place,
        case when adjustments.difference > 0 then '18' else '20' end as form_line,
        'adjustment ' || adjustments.direction || ', of ' || adjustments.period || ': filed '
            || adjustments.filed_amount::decimal(18,2) || ', by the records ' || adjustments.amount::decimal(18,2) as text,
        adjustments.quantity - adjustments.filed_quantity as quantity, adjustments.rate,
        adjustments.difference as amount, adjustments.interest, adjustments.interest_unverified,
        adjustments.period as of_period
    from shown
    join excise.adjustments as adjustments
        on adjustments.area = shown.area and adjustments.site = shown.site and adjustments.next_period = shown.period
),
lines as (
    select * from bands
    union all by name
    select * from sums
    -- A line that says nothing is left out: no adjustment, no discount, no payment.
    where place in (1000, 5000, 8000) or (place = 3000 and area = 'US') or (place > 5000 and amount <> 0)
    union all by name
    select * exclude (interest, interest_unverified, of_period) from adjusted
    union all by name
    -- Schedule A, column (c): interest on an increasing adjustment stands beside it, on the same line.
    select month, area, site, period, due_date, currency, place + 1 as place, form_line,
        'interest on the adjustment of ' || of_period || case
            when interest is null then ': the area file has no rate for these days; ask the authority'
            when interest_unverified then ', to the day this return is due (rate unverified)'
            else ', to the day this return is due'
        end as text,
        null as quantity, null as rate, interest as amount
    from adjusted
    where amount > 0
)
select lines.* exclude (form_line), case when area = 'US' then form_line end as form_line
from lines;
