-- table: report.removals_by_day
-- grain: one area, site, day and form
-- key: area, site, date, form, unit
-- units: `unit`; barrels: removed_bbl and returned_bbl at 5 decimals, taxable_bbl at 2
-- reads: result.removals_by_day
-- rule: X2, X4
-- source: none; presentation

create table report.removals_by_day (
    month text not null,
    area text not null,
    site text,
    date date not null,
    form text not null,
    removed_bbl decimal(18,6),
    returned_bbl decimal(18,6),
    taxable_bbl decimal(18,6),
    unit text not null
);

insert into report.removals_by_day by name
select month_of(date) as month, area, site, date, form, removed_bbl, returned_bbl, taxable_bbl, unit
from result.removals_by_day;
