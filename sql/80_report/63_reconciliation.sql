-- table: report.reconciliation
-- grain: one reading of one lot's chain, recorded and reconciled
-- key: site, lot, reading
-- units: bbl; z: the adjustment over its standard deviation; month: that in which the lot was emptied, else the last of the books
-- reads: given_reconciliation, result.lots, report.months
-- rule: V7
-- source: least-squares reconciliation and measurement test, brewcost/reconciliation.py (Mah & Tamhane 1982; Narasimhan & Jordache
--   2000); for the brewer only, no cost and no duty comes from it

create table report.reconciliation (
    month text not null,
    site text not null,
    lot text not null,
    beer text,
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
select
    coalesce(strftime(lots.emptied_on, '%Y-%m'), (select max(month) from report.months)) as month,
    given.site, given.lot, lots.beer, given.reading, given.vessel, given.date, given.recorded_bbl, given.tolerance_bbl,
    given.reconciled_bbl, given.reconciled_error_bbl, given.reconciled_bbl - given.recorded_bbl as adjustment_bbl,
    given.z, given.limit_z,
    case
        when given.suspect then 'MOST LIKELY WRONG'
        when given.tolerance_bbl = 0 then 'counted'
        else 'fits'
    end as verdict
from given_reconciliation as given
join result.lots as lots on lots.site = given.site and lots.lot = given.lot;
