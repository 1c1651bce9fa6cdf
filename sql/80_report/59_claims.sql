-- table: report.claims
-- grain: one claim that may be made, or one filed return that changed, standing open in a month
-- key: month, what, area, site, subject
-- units: bbl, money of the area
-- reads: report.months, excise.claims, excise.adjustments, excise.filer_periods
-- rule: X4, X10
-- source: none; presentation

create table report.claims (
    month text not null,
    what text not null,
    area text not null,
    site text not null,
    date date not null,
    subject text not null,
    bbl decimal(18,6),
    amount decimal(18,6),
    until text,
    reason text not null,
    file text,
    sheet text,
    row bigint
);

insert into report.claims by name
select months.month, 'claim' as what, claims.area, claims.site, claims.date,
    claims.document || ' line ' || claims.line || ', ' || claims.beer as subject, claims.bbl, claims.amount,
    'claim by ' || claims.claim_by as until,
    claims.reason || coalesce(' (' || claims.source || ')', '') as reason, claims.file, claims.sheet, claims.row
from report.months as months
join excise.claims as claims on claims.date <= months.last_day and claims.claim_by >= months.first_day
union all by name
select months.month, 'adjustment ' || adjustments.direction as what, adjustments.area, adjustments.site,
    adjustments.filed_on as date, 'return of ' || adjustments.period as subject,
    adjustments.quantity - adjustments.filed_quantity as bbl, adjustments.difference as amount,
    coalesce('on the return of ' || adjustments.next_period, 'on the next return') as until,
    'filed with ' || adjustments.filed_amount::decimal(18,2) || ', the records now give '
        || adjustments.amount::decimal(18,2) as reason,
    adjustments.file, adjustments.sheet, adjustments.row
from report.months as months
join excise.filer_periods as periods on periods.to_date <= months.last_day
join excise.adjustments as adjustments
    on adjustments.area = periods.area and adjustments.site = periods.site and adjustments.period = periods.period;
