-- table: report.lot_pages
-- grain: one line of a lot's paper log: what was read on a day
-- key: none
-- units: bbl, degrees Plato
-- reads: report.reconciliation, result.lot_readings, result.lot_materials, result.lots, report.months
-- rule: V7
-- source: none; presentation

create table report.lot_pages (
    month text not null,
    site text not null,
    lot text not null,
    page text not null,
    date date,
    sort bigint not null,
    what text not null,
    vessel text,
    plato decimal(18,6),
    recorded_bbl decimal(18,6),
    tolerance_bbl decimal(18,6),
    reconciled_bbl decimal(18,6),
    adjustment_bbl decimal(18,6),
    verdict text
);

insert into report.lot_pages by name
with
pages as (
    select site, lot, coalesce(strftime(emptied_on, '%Y-%m'), (select max(month) from report.months)) as month,
        concat_ws(', ', 'Lot ' || lot, beer, 'tank ' || vessel, 'filled ' || opened_on,
            coalesce('emptied ' || emptied_on, 'not emptied yet')) as page
    from result.lots
)
select pages.*, lines.date,
    -- As on the paper: what left one tank before what came into the next.
    case when lines.reading like '%, in' then 3 else 1 end as sort, lines.reading as what, lines.vessel, lines.recorded_bbl, lines.tolerance_bbl,
    lines.reconciled_bbl, lines.adjustment_bbl, lines.verdict
from pages
join report.reconciliation as lines using (site, lot)
union all by name
select pages.*, readings.date, 2 as sort, 'gravity, day ' || readings.age_days as what, readings.vessel, readings.plato
from pages
join result.lot_readings as readings using (site, lot)
where readings.plato is not null
union all by name
-- The grist stands on the brew's own sheet.
select pages.*, used.date, 1 as sort,
    concat_ws(', ', used.material || ' ' || shown(used.quantity) || ' ' || used.unit, 'brew ' || used.brew,
        'supplier lot ' || used.supplier_lot, 'generation ' || used.generation,
        case when used.from_recipe then 'by the recipe' end) as what
from pages
join result.lot_materials as used using (site, lot)
where used.kind not in ('malt', 'adjunct', 'sugar');
