-- table: excise.removals_by_day
-- grain: one day's taxable removals of one form from one site
-- key: area, site, date, form
-- units: bbl: removed and returned at 5 decimals, taxable at 2; of areas that count something else, in their unit
-- reads: excise.days, reference.rates
-- rule: X2, X4
-- source: 27 CFR 25.156(c), 25.157; 26 U.S.C. 5056(a)

create table excise.removals_by_day (
    area text not null,
    site text not null,
    date date not null,
    month text not null,
    form text not null,
    unit text not null,
    removed_bbl decimal(18,6) not null,
    returned_bbl decimal(18,6) not null,
    taxable_bbl decimal(18,6) not null,
    adjustment_bbl decimal(18,6) not null
);

insert into excise.removals_by_day by name
select
    days.area, days.site, days.date, days.month, days.form, rates.unit,
    sum(divide6(days.removed, rates.litres_per_unit)) as removed_bbl,
    sum(divide6(days.returned, rates.litres_per_unit)) as returned_bbl,
    sum(divide6(days.taxable, rates.litres_per_unit)) as taxable_bbl,
    sum(divide6(days.adjustment, rates.litres_per_unit)) as adjustment_bbl
from excise.days as days
join reference.rates as rates on rates.area = days.area and rates.class = days.class and rates.band_no = 1
-- Where an area levies two taxes on the same beer, the beer is shown once.
where days.tax = (select min(taxes.tax) from reference.rates as taxes where taxes.area = days.area)
group by all;
