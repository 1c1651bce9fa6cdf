-- table: excise.duty_months
-- grain: one area, site and month
-- key: area, site, month
-- units: quantity in the area's unit, money in its currency; owed at the end of the month
-- reads: excise.period_bands, excise.remissions, excise.filers, excise.return_records, record.months, reference.rates
-- rule: X6, X10
-- source: accrued: the period to date less what earlier months of it showed

create table excise.duty_months (
    area text not null,
    site text not null,
    month text not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null,
    paid decimal(18,6) not null,
    owed decimal(18,6) not null
);

insert into excise.duty_months by name
with accrued as (
    select bands.area, bands.site, bands.month, sum(bands.amount) as amount,
        -- Beer under two taxes of one area is counted once.
        sum(bands.quantity) filter (
            where rates.tax = (select min(taxes.tax) from reference.rates as taxes where taxes.area = bands.area)
        ) as quantity
    from excise.period_bands as bands
    join reference.rates as rates on rates.rate_id = bands.rate_id
    group by bands.area, bands.site, bands.month
),
remitted as (
    select area, site, month, sum(remitted) as amount
    from excise.remissions
    group by area, site, month
),
paid as (
    select area, site, month_of(date) as month, sum(amount) as paid
    from excise.return_records
    where kind = 'payment'
    group by all
),
brought as (
    select area, site, sum(amount) as owed
    from excise.return_records
    where kind = 'opening'
    group by area, site
)
select
    filers.area, filers.site, months.month,
    coalesce(accrued.quantity, 0) as quantity,
    coalesce(accrued.amount, 0) - coalesce(remitted.amount, 0) as amount,
    coalesce(paid.paid, 0) as paid,
    coalesce(brought.owed, 0) + sum(
        coalesce(accrued.amount, 0) - coalesce(remitted.amount, 0) - coalesce(paid.paid, 0)
    ) over (
        partition by filers.area, filers.site order by months.month
    ) as owed
from excise.filers as filers
cross join record.months as months
left join accrued on accrued.area = filers.area and accrued.site = filers.site and accrued.month = months.month
left join remitted on remitted.area = filers.area and remitted.site = filers.site and remitted.month = months.month
left join paid on paid.area = filers.area and paid.site = filers.site and paid.month = months.month
left join brought on brought.area = filers.area and brought.site = filers.site;
