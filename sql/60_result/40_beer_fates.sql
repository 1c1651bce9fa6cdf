-- table: result.beer_fates
-- grain: one brew, opening balance, receipt of beer or liquid added, and one thing that became of part of it on one day
-- key: source, name, site, lot, fate, date, run, line
-- units: bbl
-- reads: volume.source_fates, volume.brews, volume.lots, volume.run_lines, cost.goods_events, cost.goods_layers,
--   cost.shipped_shares, reference.settings
-- rule: V8, V8a
-- source: followed by volume share through lots, splits, blends and runs; a brew's fates and its kettle loss add up exactly

create table result.beer_fates (
    month text,
    date date,
    site text not null,
    source text not null,
    name text not null,
    brewed_beer text,
    lot text not null,
    beer text,
    fate text not null,
    run text,
    line bigint,
    package text,
    bbl decimal(18,6) not null,
    shipped_bbl decimal(18,6) not null
);

insert into result.beer_fates by name
with
line_layers as (
    select events.document as run, events.line, shares.shipped_share
    from cost.goods_events as events
    join cost.goods_layers as layers on layers.item = events.item and layers.month = events.month
        and (layers.layer = events.seq or (select goods_method from reference.settings) = 'average')
    join cost.shipped_shares as shares on shares.item = layers.item and shares.layer = layers.layer
    where events.kind = 'packaged'
)
select
    month_of(fates.date) as month,
    fates.date,
    fates.site,
    fates.source,
    fates.name,
    brews.beer as brewed_beer,
    fates.lot,
    coalesce(run_lines.beer, lots.beer) as beer,
    fates.fate,
    fates.run,
    fates.line,
    run_lines.package,
    sum(fates.bbl) as bbl,
    sum(case when fates.fate = 'packaged'
        then rounded6(fates.bbl::double * coalesce(line_layers.shipped_share, 0)::double)
        else 0 end) as shipped_bbl
from volume.source_fates as fates
join volume.lots using (site, lot)
left join volume.brews on fates.source = 'brew' and brews.brew = fates.name
left join volume.run_lines on run_lines.run = fates.run and run_lines.line = fates.line
left join line_layers on line_layers.run = fates.run and line_layers.line = fates.line
group by all;
