-- table: result.brew_strengths
-- grain: one brew of a lot from which beer has been drawn, with the gravities it was read at
-- key: brew
-- units: degrees Plato, % by weight of the original extract, % alcohol by volume; off_declared_pct in points; declared_abv_pct as the beer's record states it
-- reads: volume.brews, volume.draws, volume.lots, record.brews, volume.readings, record.beers
-- rule: U4
-- source: Balling's formulas; the original gravity is the lot's, weighed by the volume of its brews, for they ferment together;
--   the final one is the last reading of the lot the brew was filled into

create table result.brew_strengths (
    month text not null,
    site text not null,
    brew text primary key,
    beer text not null,
    lot text not null,
    original_plato decimal(18,6),
    final_plato decimal(18,6),
    real_extract_plato decimal(18,6),
    apparent_attenuation_pct decimal(18,6),
    real_attenuation_pct decimal(18,6),
    abv_pct decimal(18,6),
    declared_abv_pct decimal(18,6),
    off_declared_pct decimal(18,6)
);

insert into result.brew_strengths by name
with
original as (
    select brews.site, brews.lot,
        -- A brew without a reading leaves the lot's gravity unknown.
        case
            when count(records.original_plato) = count(*) and sum(brews.volume_out_bbl) > 0
                then sum(brews.volume_out_bbl::double * records.original_plato::double)
                    / sum(brews.volume_out_bbl::double)
        end as original_plato
    from volume.brews
    join record.brews as records using (brew)
    group by brews.site, brews.lot
),
final as (
    select site, lot, plato as final_plato
    from volume.readings
    where plato is not null
    qualify row_number() over (partition by site, lot order by date desc, file desc, sheet desc nulls last, row desc) = 1
),
drawn as (
    select distinct site, lot from volume.draws where reason <> 'sample'
),
strengths as (
    select brews.month, brews.site, brews.brew, brews.beer, brews.lot, original.original_plato, final.final_plato,
        beers.abv_pct as declared_abv_pct,
        real_extract(original.original_plato, final.final_plato) as real_extract_plato
    from volume.brews
    join drawn using (site, lot)
    join record.beers using (beer)
    left join original using (site, lot)
    left join final using (site, lot)
),
fermented as (
    -- A soft drink keeps its sugar; a gravity that did not fall made no alcohol, one that was not read says nothing.
    select *,
        case when real_extract_plato is not null then greatest(alcohol_by_volume(original_plato, final_plato), 0) end as abv_pct
    from strengths
)
select
    *,
    case when original_plato > 0 then 100 * (original_plato - final_plato) / original_plato
        end as apparent_attenuation_pct,
    case when original_plato > 0 then 100 * (original_plato - real_extract_plato) / original_plato
        end as real_attenuation_pct,
    abv_pct - declared_abv_pct as off_declared_pct
from fermented;
