-- table: report.lot_pages
-- grain: one line of a lot's paper log: what was read or put in on a day
-- key: none
-- units: bbl, degrees Plato; day: since the lot was filled
-- reads: report.lot_heads, report.reconciliation, result.lot_readings, result.lot_materials, result.lot_flows
-- rule: V7
-- source: none; presentation

create table report.lot_pages (
    month text not null,
    page text not null,
    site text not null,
    lot text not null,
    date date,
    day bigint,
    sort bigint not null,
    what text not null,
    vessel text,
    plato decimal(18,6),
    recorded_bbl decimal(18,6),
    tolerance_bbl decimal(18,6),
    reconciled_bbl decimal(18,6),
    adjustment_bbl decimal(18,6),
    remark text
);

insert into report.lot_pages by name
with
lines as (
    -- As on the paper: what was filled, what was put in, what was read, what left one tank and came into the next.
    select lines.site, lines.lot, lines.date,
        case when flows.direction = 'in' then 1 when lines.reading like 'dip of %' then 4 else 5 end
            + case when lines.reading like 'move %, in' then 1 else 0 end as sort,
        case
            when flows.package is not null and lines.reading like '%, packages' then concat(lines.reading, ': ', flows.filled, ' ',
                flows.package, case when flows.rejected > 0 then ', ' || flows.rejected || ' rejected' end)
            when flows.other_lot is not null and lines.reading like '%, out'
                then concat_ws(' ', lines.reading, case flows.direction when 'in' then 'of' else 'to' end,
                    nullif(flows.other_vessel || ',', ''), 'lot', flows.other_lot)
            when lines.reading like 'dip of %' then 'dip'
            else lines.reading
        end as what,
        lines.vessel, lines.recorded_bbl, lines.tolerance_bbl, lines.reconciled_bbl, lines.adjustment_bbl, lines.verdict as remark
    from report.reconciliation as lines
    left join result.lot_flows as flows on flows.site = lines.site and flows.lot = lines.lot
        and (lines.reading = flows.record or starts_with(lines.reading, flows.record || ','))
    union all by name
    select site, lot, date, 4 as sort, 'gravity' as what, vessel, plato
    from result.lot_readings
    where plato is not null
    union all by name
    -- The grist stands on the brew's own sheet.
    select site, lot, date, 3 as sort,
        concat_ws(', ', material || ' ' || shown(quantity) || ' ' || unit, 'brew ' || brew) as what,
        nullif(concat_ws(', ', 'lot ' || supplier_lot, 'generation ' || generation, case when from_recipe then 'by the recipe' end),
            '') as remark
    from result.lot_materials
    where kind not in ('malt', 'adjunct', 'sugar')
)
select heads.month, heads.page, lines.*, date_diff('day', heads.opened_on, lines.date) as day
from lines
join report.lot_heads as heads using (site, lot);
