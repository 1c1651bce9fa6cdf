-- table: report.fills
-- grain: one run line of result.fills
-- key: run, line
-- units: fills in `unit`, that of the package (gallons where its size is a part of a barrel); bbl, the books' currency; half_barrels are
--   kegs of 15.5 gal
-- reads: result.fills, reference.units
-- rule: C15, V7
-- source: none; presentation

create table report.fills (
    month text not null,
    date date not null,
    site text not null,
    record text not null,
    run text not null,
    line bigint not null,
    beer text,
    package text not null,
    unit text not null,
    filled bigint not null,
    rejected bigint not null,
    containers_count bigint not null,
    nominal_fill decimal(18,6) not null,
    average_fill decimal(18,6) not null,
    over_pct decimal(18,6) not null,
    nominal_bbl decimal(18,6) not null,
    overfill_bbl decimal(18,6) not null,
    half_barrels decimal(18,6) not null,
    overfill_cost decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    spill_bbl decimal(18,6),
    reading_error_bbl decimal(18,6),
    verdict text not null
);

insert into report.fills by name
select
    fills.month, fills.date, fills.site, concat(fills.run, ' line ', fills.line) as record, fills.run, fills.line,
    fills.beer, fills.package, replace(units.unit, 'floz', 'fl oz') as unit, fills.filled, fills.rejected,
    fills.filled * fills.containers as containers_count,
    divide6(fills.nominal_fill_bbl::double * units.denominator::double, units.numerator) as nominal_fill,
    divide6(fills.average_fill_bbl::double * units.denominator::double, units.numerator) as average_fill,
    fills.over_pct, fills.nominal_bbl, fills.overfill_bbl, 2 * fills.overfill_bbl as half_barrels, fills.overfill_cost,
    fills.loss_bbl, fills.spill_bbl, fills.reading_error_bbl,
    case when fills.spill_bbl is null then 'drawn not read' else verdict(fills.spill_bbl, fills.reading_error_bbl) end as verdict
from result.fills as fills
join reference.units as units on units.unit = if(fills.volume_unit = 'bbl', 'gal', fills.volume_unit);
