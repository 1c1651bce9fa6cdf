-- table: volume.lot_balances
-- grain: one lot over its whole life, or to the end of the books
-- key: site, lot
-- units: bbl; allowed_bbl: hop_allowed_bbl is a part of it; hops_lb of hops put into the lot
-- reads: volume.lots, volume.inflows, volume.draws, volume.lot_hops
-- rule: V2, V6, V7, V10
-- source: reading error: root of the sum of squares of independent readings (JCGM 100:2008, 5.1.2)

create table volume.lot_balances (
    site text not null,
    lot text not null,
    in_bbl decimal(18,6) not null,
    drawn_bbl decimal(18,6) not null,
    loss_bbl decimal(18,6),
    allowed_bbl decimal(18,6) not null,
    hops_lb decimal(18,6) not null,
    hop_allowed_bbl decimal(18,6) not null,
    reading_error_bbl decimal(18,6) not null,
    abnormal_bbl decimal(18,6)
);

insert into volume.lot_balances by name
with
inflows as (
    -- Liquid added is poured from a measure, not read in the tank: no reading of its own.
    select site, lot, sum(volume_bbl) as in_bbl, count(*) filter (where source <> 'added') as readings
    from volume.inflows
    group by site, lot
),
draws as (
    select site, lot, sum(volume_bbl) as drawn_bbl, count(*) as readings
    from volume.draws
    group by site, lot
),
hops as (
    select site, lot, max(so_far_lb) as hops_lb, max(allowed_so_far_bbl) as allowed_bbl
    from volume.lot_hops
    group by site, lot
),
balances as (
    select
        lots.site,
        lots.lot,
        lots.emptied_on,
        coalesce(inflows.in_bbl, 0) as in_bbl,
        coalesce(draws.drawn_bbl, 0) as drawn_bbl,
        coalesce(hops.hops_lb, 0) as hops_lb,
        coalesce(hops.allowed_bbl, 0) as hop_allowed_bbl,
        part6(coalesce(inflows.in_bbl, 0), lots.allowed_pct, 100) + coalesce(hops.allowed_bbl, 0) as allowed_bbl,
        rounded6(sqrt(coalesce(inflows.readings, 0) + coalesce(draws.readings, 0)) * lots.tolerance_bbl::double)
            as reading_error_bbl
    from volume.lots
    left join inflows using (site, lot)
    left join draws using (site, lot)
    left join hops using (site, lot)
)
select
    site,
    lot,
    in_bbl,
    drawn_bbl,
    case when emptied_on is not null then in_bbl - drawn_bbl end as loss_bbl,
    allowed_bbl,
    hops_lb,
    hop_allowed_bbl,
    reading_error_bbl,
    case
        when emptied_on is null then null
        when in_bbl - drawn_bbl - allowed_bbl > reading_error_bbl then in_bbl - drawn_bbl - allowed_bbl
        else 0
    end as abnormal_bbl
from balances;
