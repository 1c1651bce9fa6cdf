-- table: result.removals_by_day
-- grain: one day's removals of one form at a site, for one area
-- key: area, site, date, form, unit
-- units: `unit`: barrels (removed and returned at five decimals, taxable at two), or what the area counts its rate on
-- reads: excise.removals_by_day
-- rule: X2, X4
-- source: 27 CFR 25.156(c), 25.157; 26 U.S.C. 5056(a)

create table result.removals_by_day (
    area text not null,
    site text not null,
    date date not null,
    form text not null,
    removed_bbl decimal(18,6) not null,
    returned_bbl decimal(18,6) not null,
    taxable_bbl decimal(18,6) not null,
    unit text not null,
    primary key (area, site, date, form, unit)
);

insert into result.removals_by_day by name
select area, site, date, form, removed_bbl, returned_bbl, taxable_bbl, unit
from excise.removals_by_day;
