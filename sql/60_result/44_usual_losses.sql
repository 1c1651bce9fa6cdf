-- table: result.usual_losses
-- grain: one stage and beer at one site; a null beer stands for those with fewer than five measured losses
-- key: site, stage, beer
-- units: % of the volume in
-- reads: result.loss_jobs
-- rule: V1 to V4
-- source: median, and 1.4826 times the median absolute deviation for the spread (Hampel 1974, J. Am. Stat. Assoc. 69, 383-393), less
--   what the readings alone scatter; at least 0.3 %, common practice, no source

create table result.usual_losses (
    site text not null,
    stage text not null,
    beer text,
    jobs_count bigint not null,
    usual_pct decimal(18,6) not null,
    spread_pct decimal(18,6) not null,
    unique (site, stage, beer)
);

insert into result.usual_losses by name
with
shares as (
    -- Beyond ten times the volume nothing usual is left; it would only overflow.
    select site, stage, beer,
        least(greatest(100 * loss_bbl::double / volume_in_bbl::double, -1000), 1000) as loss_pct,
        least(100 * reading_error_bbl::double / volume_in_bbl::double, 1000) as error_pct
    from result.loss_jobs
),
sets as (
    select * from shares
    union all by name
    select * replace (null as beer) from shares
)
select
    site, stage, beer, count(*) as jobs_count,
    median(loss_pct) as usual_pct,
    sqrt(greatest((1.4826 * mad(loss_pct)) ** 2 - median(error_pct) ** 2, 0.09)) as spread_pct
from sets
group by site, stage, beer
having beer is null or count(*) >= 5;
