-- table: volume.source_fates
-- grain: one source of beer and one thing that became of part of it
-- key: stay, seq, fate, source, name
-- units: bbl; the fates of a source add up to what it put into the cellar, the sources of a fate to the fate
-- reads: volume.stay_outs, volume.stay_sources, volume.lot_stays, volume.lots, volume.moves
-- rule: V8, V8a
-- source: as volume.stay_sources

create table volume.source_fates (
    stay bigint not null,
    seq bigint not null,
    fate text not null,
    source text not null,
    name text not null,
    site text not null,
    lot text not null,
    date date,
    run text,
    line bigint,
    bbl decimal(18,6) not null
);

insert into volume.source_fates by name
with
parts as (
    select outs.*, sources.source, sources.name as source_name,
        row_number() over (
            partition by outs.stay, outs.seq order by sources.volume_bbl desc, sources.source, sources.name
        ) as size_order,
        taken_of(sources.volume_bbl, outs.volume_bbl, outs.up_to_bbl, outs.whole_bbl) as part_bbl
    from volume.stay_outs as outs
    join volume.stay_sources as sources using (stay)
    where outs.kind <> 'carried'
),
goods as (
    select *, good_of(good_bbl, part_bbl, volume_bbl) as good_part_bbl
    from parts
),
split as (
    select * exclude (part_bbl, good_part_bbl),
        case when size_order = 1 then volume_bbl - coalesce(sum(case when size_order > 1 then part_bbl end) over whole, 0)
            else part_bbl end as part_bbl,
        case when size_order = 1 then good_bbl - coalesce(sum(case when size_order > 1 then good_part_bbl end) over whole, 0)
            else good_part_bbl end as good_part_bbl
    from goods
    window whole as (partition by stay, seq)
),
named as (
    select split.*, lot_stays.site, lot_stays.lot, lots.stage, moves.reason
    from split
    join volume.lot_stays using (stay)
    join volume.lots using (site, lot)
    left join volume.moves on split.kind = 'move' and moves.move = split.name
)
select stay, seq, source, source_name as name, site, lot, date,
    case kind when 'lost' then stage || '_loss' when 'in cellar' then 'in_cellar' else reason end as fate,
    part_bbl as bbl
from named
where kind <> 'run' and to_stay is null
union all by name
select stay, seq, source, source_name as name, site, lot, date, 'transfer_loss' as fate, part_bbl - good_part_bbl as bbl
from named
where to_stay is not null
union all by name
select stay, seq, source, source_name as name, site, lot, date, name as run, line, 'packaging_loss' as fate,
    part_bbl - good_part_bbl as bbl
from named
where kind = 'run'
union all by name
select stay, seq, source, source_name as name, site, lot, date, name as run, line, 'packaged' as fate,
    good_part_bbl as bbl
from named
where kind = 'run';
