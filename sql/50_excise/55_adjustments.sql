-- table: excise.adjustments
-- grain: one filed return that the records no longer agree with
-- key: area, site, period
-- units: quantity in the area's unit, amounts in its currency
-- reads: excise.filer_periods, excise.duty, record.filings
-- rule: X10
-- source: a return as filed no longer moves: what changed goes on the next one

create table excise.adjustments (
    area text not null,
    site text not null,
    period text not null,
    next_period text,           -- the first return after it that is not filed; null: none yet in the books
    filed_on date not null,
    serial text,
    filed_quantity decimal(18,6) not null,
    quantity decimal(18,6) not null,
    filed_amount decimal(18,6) not null,
    amount decimal(18,6) not null,
    difference decimal(18,6) not null,
    direction text not null check (direction in ('increasing', 'decreasing')),
    file text not null,
    sheet text,
    row bigint not null
);

insert into excise.adjustments by name
with computed as (
    select area, site, period, sum(quantity) filter (where counts) as quantity, sum(amount) as amount
    from excise.duty
    group by area, site, period
),
-- A filing that names no site is that of the only, or the first, site.
filed as (
    select periods.area, periods.site, periods.period, periods.from_date,
        filings.filed_on, filings.serial, filings.quantity as filed_quantity, filings.amount as filed_amount,
        filings.file, filings.sheet, filings.row
    from record.filings as filings
    join excise.filer_periods as periods
        on periods.area = filings.area and periods.period = filings.period
        and (periods.site = filings.site or filings.site is null)
    qualify row_number() over (
        partition by periods.area, periods.site, periods.period order by filings.filed_on desc, filings.row desc
    ) = 1
        and (filings.site is not null or periods.site = min(periods.site) over (partition by periods.area, periods.period))
),
followed as (
    select filed.area, filed.site, filed.period, arg_min(later.period, later.from_date) as next_period
    from filed
    join excise.filer_periods as later
        on later.area = filed.area and later.site = filed.site and later.from_date > filed.from_date
    anti join filed as others
        on others.area = later.area and others.site = later.site and others.period = later.period
    group by filed.area, filed.site, filed.period
)
select
    filed.* exclude (from_date), followed.next_period, computed.quantity, computed.amount,
    computed.amount - filed.filed_amount as difference,
    case when computed.amount > filed.filed_amount then 'increasing' else 'decreasing' end as direction
from filed
join computed on computed.area = filed.area and computed.site = filed.site and computed.period = filed.period
left join followed on followed.area = filed.area and followed.site = filed.site and followed.period = filed.period
where computed.amount <> filed.filed_amount;
