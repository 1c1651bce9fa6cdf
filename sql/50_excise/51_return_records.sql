-- table: excise.return_records
-- grain: one record about returns: a filing, a payment, or what was owed before the books
-- key: file, sheet, row
-- units: amount in the area's currency; quantity in the area's own unit
-- reads: record.filings, record.payments, record.opening_duty, excise.filers, excise.filer_periods, reference.return_periods,
--   reference.settings
-- rule: X6, X10
-- source: none; a record that names no site is of the first site that files such a return, else of the first that files at all

create table excise.return_records (
    kind text not null check (kind in ('filing', 'payment', 'opening')),
    area text not null,
    site text,                  -- null: nobody files in the area
    period text not null,
    date date,                  -- of the filing or payment
    quantity decimal(18,6),
    amount decimal(18,6) not null,
    interest decimal(18,6),
    serial text,
    has_filer boolean not null,     -- the site files returns in the area
    has_return boolean not null,    -- and the period is one of its own, or one of the area's that ended before the books
    is_choice boolean not null,     -- it names no site, and more than one files in the area
    last boolean not null,          -- the last filing of its return
    file text not null,
    sheet text,
    row bigint not null
);

insert into excise.return_records by name
with
records as (
    select 'filing' as kind, area, site, period, filed_on as date, quantity, amount, serial, file, sheet, row
    from record.filings
    union all by name
    select 'payment' as kind, area, site, period, date, amount, interest, file, sheet, row
    from record.payments
    union all by name
    select 'opening' as kind, area, site, period, (coalesce(tax_accrued, 0) - coalesce(tax_paid, 0))::decimal(18,6) as amount,
        file, sheet, row
    from record.opening_duty
),
first_filers as (
    select area, min(site) as site, count(*) as filers_count from excise.filers group by area
),
placed as (
    select records.* exclude (site), records.site is null and coalesce(filers_count, 0) > 1 as is_choice,
        coalesce(
            records.site,
            (select min(own.site) from excise.filer_periods as own
             where own.area = records.area and own.period = records.period),
            first_filers.site
        ) as site
    from records
    left join first_filers on first_filers.area = records.area
),
known as (
    select filers.area, filers.site, periods.period
    from excise.filers as filers
    join reference.return_periods as periods on periods.area = filers.area
    cross join reference.settings as settings
    where periods.length = filers.length or periods.to_date < settings.first_day
    group by all
)
select placed.*, filers.site is not null as has_filer,
    filers.site is not null and (placed.kind = 'opening' or known.period is not null) as has_return,
    row_number() over (
        partition by placed.kind, placed.area, placed.site, placed.period
        order by placed.date desc, placed.file desc, placed.sheet desc nulls last, placed.row desc
    ) = 1 as last
from placed
left join excise.filers as filers on filers.area = placed.area and filers.site = placed.site
left join known on known.area = placed.area and known.site = placed.site and known.period = placed.period;
