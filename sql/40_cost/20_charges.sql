-- table: cost.charges
-- grain: one use of a material or one labour row with its cost, and what it is charged to
-- key: none (a recipe row stands behind every brew that took it)
-- units: money; hours. item and seq: the movement in cost.material_walk, of a use
-- reads: cost.material_moves, record.labour, volume.brews, volume.lots, volume.run_lines
-- rule: C2
-- source: a row is charged to the brew, lot or run it names, if that stands at its site, that brew or run is of its month and
--   that lot holds beer on its day; else it is a period expense `unshared` under the name

create table cost.charges (
    source text not null,
    item text,
    seq bigint,
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    month text not null,
    site text not null,
    stage text,
    element text not null,
    brew text,
    lot text,
    run text,
    pool text,
    account text,
    name text,
    material text,
    stock_qty decimal(18,6),
    charged boolean not null,
    hours decimal(18,6) not null,
    income decimal(18,6) not null,
    amount decimal(18,6) not null
);

insert into cost.charges by name
with
runs as (
    select distinct run, month, site from volume.run_lines
),
direct as (
    select 'use' as source, item, seq, file, sheet, row, date, site, null as stage,
        case when run is not null then 'packaging' else 'ingredients' end as element,
        brew, lot, run, pool, account, material, used_qty as stock_qty, 0::decimal(18,6) as hours, income,
        used_cost as amount
    from cost.material_moves
    where kind = 'use'
    union all by name
    select 'labour' as source, file, sheet, row, date, site, stage, 'labour' as element,
        brew, lot, run, coalesce(hours, 0) as hours, 0::decimal(18,6) as income, coalesce(cost, 0) as amount
    from record.labour
)
select
    direct.*,
    month_of(direct.date) as month,
    coalesce(direct.brew, direct.lot, direct.run) as name,
    case
        when direct.stage = 'warehouse' then false
        when direct.brew is not null then brews.brew is not null
        when direct.run is not null then runs.run is not null
        when direct.lot is not null then lots.lot is not null
        else false
    end as charged
from direct
left join volume.brews on brews.brew = direct.brew and brews.site = direct.site
    and brews.month = month_of(direct.date)
left join runs on runs.run = direct.run and runs.site = direct.site and runs.month = month_of(direct.date)
left join volume.lots on lots.site = direct.site and lots.lot = direct.lot
    and direct.date between lots.opened_on and coalesce(lots.emptied_on, direct.date);
