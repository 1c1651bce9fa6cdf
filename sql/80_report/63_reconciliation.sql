-- table: report.reconciliation
-- grain: one reading on the page of one lot, recorded and reconciled; both lots of a move have its readings
-- key: site, lot, reading
-- units: bbl; z: the adjustment over its standard deviation; month: that in which the lot was emptied, else the last of the books;
--   own: read in this lot's tank, so that it counts once where the lots are counted together
-- reads: given_reconciliation, result.chain_readings, result.lots, report.months
-- rule: V7
-- source: least-squares reconciliation and measurement test, brewcost/reconciliation.py (Mah & Tamhane 1982; Narasimhan & Jordache
--   2000; Romagnoli & Sanchez 2000); for the brewer only, no cost and no duty comes from it

create table report.reconciliation (
    month text not null,
    site text not null,
    lot text not null,
    beer text,
    own boolean not null,
    chain bigint not null,
    reading text not null,
    vessel text,
    date date,
    recorded_bbl decimal(18,6) not null,
    tolerance_bbl decimal(18,6) not null,
    reconciled_bbl decimal(18,6) not null,
    reconciled_error_bbl decimal(18,6) not null,
    adjustment_bbl decimal(18,6) not null,
    z decimal(18,6) not null,
    limit_z decimal(18,6) not null,
    verdict text not null,
    primary key (site, lot, reading)
);

insert into report.reconciliation by name
with
pages as (
    select number, site, lot, true as own
    from result.chain_readings
    union all by name
    select number, site, other_lot as lot, false as own
    from result.chain_readings
    where other_lot is not null
)
select
    coalesce(strftime(lots.emptied_on, '%Y-%m'), (select max(month) from report.months)) as month,
    pages.site, pages.lot, lots.beer, pages.own, given.chain, readings.reading, readings.vessel, readings.date,
    readings.volume_bbl as recorded_bbl, readings.tolerance_bbl, given.reconciled_bbl, given.reconciled_error_bbl,
    given.reconciled_bbl - readings.volume_bbl as adjustment_bbl, given.z, given.limit_z,
    case
        when given.blamed = 1 then 'MOST LIKELY WRONG'
        when given.blamed = 2 then 'or this one'
        when readings.tolerance_bbl = 0 then 'counted'
        else 'fits'
    end as verdict
from pages
join result.chain_readings as readings using (number)
join given_reconciliation as given using (number)
join result.lots as lots on lots.site = pages.site and lots.lot = pages.lot;
