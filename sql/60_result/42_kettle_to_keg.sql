-- table: result.kettle_to_keg
-- grain: one brew
-- key: brew
-- units: bbl; %. kettle_loss_bbl to in_cellar_bbl add up to end_of_boil_bbl, or, where the kettle was not read (null), to what
--   went into the fermenter; shipped_bbl is a part of packaged_bbl
-- reads: volume.brews, result.beer_fates, result.brewhouse, result.brew_strengths
-- rule: V8, V8a, V9
-- source: each brew followed by volume share; opening and received lots and added liquids are sources of their own

create table result.kettle_to_keg (
    month text not null,
    site text not null,
    brew text primary key,
    beer text not null,
    style text,
    end_of_boil_bbl decimal(18,6),
    kettle_loss_bbl decimal(18,6),
    fermenter_loss_bbl decimal(18,6) not null,
    transfer_loss_bbl decimal(18,6) not null,
    bright_tank_loss_bbl decimal(18,6) not null,
    packaging_loss_bbl decimal(18,6) not null,
    sample_bbl decimal(18,6) not null,
    destroyed_bbl decimal(18,6) not null,
    serving_tank_bbl decimal(18,6) not null,
    packaged_bbl decimal(18,6) not null,
    in_cellar_bbl decimal(18,6) not null,
    shipped_bbl decimal(18,6) not null,
    brewhouse_yield_pct decimal(18,6),
    brewhouse_efficiency_pct decimal(18,6),
    abv_pct decimal(18,6)
);

insert into result.kettle_to_keg by name
with followed as (
    select
        name as brew,
        sum(case when fate = 'fermenter_loss' then bbl else 0 end) as fermenter_loss_bbl,
        sum(case when fate = 'transfer_loss' then bbl else 0 end) as transfer_loss_bbl,
        sum(case when fate = 'bright_tank_loss' then bbl else 0 end) as bright_tank_loss_bbl,
        sum(case when fate = 'packaging_loss' then bbl else 0 end) as packaging_loss_bbl,
        sum(case when fate = 'sample' then bbl else 0 end) as sample_bbl,
        sum(case when fate = 'destroyed' then bbl else 0 end) as destroyed_bbl,
        sum(case when fate = 'serving_tank' then bbl else 0 end) as serving_tank_bbl,
        sum(case when fate = 'packaged' then bbl else 0 end) as packaged_bbl,
        sum(case when fate = 'in_cellar' then bbl else 0 end) as in_cellar_bbl,
        sum(shipped_bbl) as shipped_bbl
    from result.beer_fates
    where source = 'brew'
    group by name
)
select
    brews.month, brews.site, brews.brew, brews.beer, brews.style,
    case when brews.measured then brews.volume_in_bbl end as end_of_boil_bbl,
    case when brews.measured then brews.volume_in_bbl - brews.volume_out_bbl end as kettle_loss_bbl,
    followed.* exclude (brew),
    brewhouse.brewhouse_yield_pct,
    brewhouse.brewhouse_efficiency_pct,
    strengths.abv_pct
from volume.brews
join followed using (brew)
left join result.brewhouse using (brew)
left join result.brew_strengths as strengths using (brew);
