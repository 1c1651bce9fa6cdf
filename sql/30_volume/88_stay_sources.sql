-- table: volume.stay_sources
-- grain: one source of the beer in one stay: a brew, an opening balance, beer received, liquid added, or unknown
-- key: stay, source, name
-- units: bbl; the sources of a stay add up to all that ever came into it
-- reads: volume.lot_stays, volume.stay_outs, volume.inflows
-- rule: V8, V8a
-- source: goes level by level along the moves; a stay's beer is mixed, so each taking has the sources in their shares, the
--   largest source taking the rounding remainder

create table volume.stay_sources (
    stay bigint not null,
    source text not null,
    name text not null,
    volume_bbl decimal(18,6) not null
);

insert into volume.stay_sources by name
with recursive
feeds as (
    select stay, to_stay, seq, volume_bbl, up_to_bbl, whole_bbl, good_bbl
    from volume.stay_outs
    where to_stay is not null
),
own as (
    select stays.stay, inflows.source, inflows.name, inflows.volume_bbl
    from volume.inflows
    join volume.lot_stays as stays on stays.site = inflows.site and stays.lot = inflows.lot
        and inflows.date >= stays.from_day and (inflows.date < stays.next_day or stays.next_day is null)
    where inflows.source <> 'move'
    union all
    -- A lot that is drawn from and that nothing fills: its filling was set aside.
    select stay, 'unknown' as source, lot as name, 0 as volume_bbl
    from volume.lot_stays
    anti join feeds on feeds.to_stay = lot_stays.stay
    anti join volume.inflows on inflows.site = lot_stays.site and inflows.lot = lot_stays.lot
),
reached(stay, level) as (
    select stay, 0 from volume.lot_stays
    anti join feeds on feeds.to_stay = lot_stays.stay
    union all
    select feeds.to_stay, reached.level + 1
    from reached
    join feeds on feeds.stay = reached.stay
    group by all
),
levels as (
    select stay, max(level) as level
    from reached
    group by stay
),
mixed(stay, source, name, level, volume_bbl) using key (stay, source, name) as (
    select null::bigint, null::text, null::text, -1::bigint, null::decimal(18,6)
    union all
    (
        with clock as (
            select max(level) + 1 as level from mixed
        ),
        now_due as (
            select levels.stay, levels.level from levels join clock using (level)
        ),
        taken as (
            select feeds.to_stay, feeds.stay, feeds.seq, feeds.volume_bbl, feeds.good_bbl, known.source, known.name,
                taken_of(known.volume_bbl, feeds.volume_bbl, feeds.up_to_bbl, feeds.whole_bbl) as part_bbl,
                row_number() over (
                    partition by feeds.stay, feeds.seq order by known.volume_bbl desc, known.source, known.name
                ) as size_order
            from feeds
            join now_due on now_due.stay = feeds.to_stay
            join recurring.mixed as known on known.stay = feeds.stay
        ),
        arriving as (
            select to_stay, source, name,
                case
                    when size_order = 1 then good_bbl - coalesce(sum(
                        case when size_order > 1 then good_of(good_bbl, part_bbl, volume_bbl) end
                    ) over (partition by stay, seq), 0)
                    else good_of(good_bbl, part_bbl, volume_bbl)
                end as volume_bbl
            from taken
        ),
        filled as (
            select to_stay as stay, source, name, volume_bbl from arriving
            union all
            select own.stay, own.source, own.name, own.volume_bbl from own join now_due using (stay)
        )
        select filled.stay, filled.source, filled.name, any_value(now_due.level), sum(filled.volume_bbl)::decimal(18,6)
        from filled
        join now_due using (stay)
        group by filled.stay, filled.source, filled.name
    )
)
select stay, source, name, volume_bbl
from mixed
where stay is not null;
