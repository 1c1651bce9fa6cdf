-- table: volume.allowances
-- grain: one beer (null where it is not known), stage and month
-- key: beer, stage, month
-- units: allowed loss in % of the volume in, and bbl for each lb of hops put into the lot
-- reads: record.beers, record.months, record.standards, reference.allowed_loss
-- rule: V6
-- source: standards records: the latest for the beer, else the latest for every beer (*), else brewery.toml;
--   the row that rules, rules whole: what it says nothing of is 0

create table volume.allowances (
    beer text,
    stage text not null,
    month text not null,
    allowed_pct decimal(18,6) not null,
    hop_bbl_per_lb decimal(18,6) not null,
    unique (beer, stage, month)
);

insert into volume.allowances by name
with
beers as (
    select beer from record.beers
    union all
    select null
),
standards as (
    select beer, stage, coalesce(from_month, '') as from_month, allowed_loss_pct,
        coalesce(loss_bbl_per_lb_hops, 0) as hop_bbl_per_lb
    from record.standards
),
needed as (
    select beers.beer, allowed_loss.stage, months.month, allowed_loss.allowed_pct
    from beers
    cross join reference.allowed_loss
    cross join record.months
),
of_the_beer as (
    select needed.beer, needed.stage, needed.month, standards.allowed_loss_pct, standards.hop_bbl_per_lb
    from needed
    asof join standards
        on needed.beer = standards.beer and needed.stage = standards.stage and needed.month >= standards.from_month
),
of_every_beer as (
    select distinct needed.stage, needed.month, standards.allowed_loss_pct, standards.hop_bbl_per_lb
    from needed
    asof join (select * from standards where beer = '*') as standards
        on needed.stage = standards.stage and needed.month >= standards.from_month
)
select
    needed.beer,
    needed.stage,
    needed.month,
    coalesce(of_the_beer.allowed_loss_pct, of_every_beer.allowed_loss_pct, needed.allowed_pct) as allowed_pct,
    coalesce(of_the_beer.hop_bbl_per_lb, of_every_beer.hop_bbl_per_lb, 0) as hop_bbl_per_lb
from needed
left join of_the_beer using (beer, stage, month)
left join of_every_beer using (stage, month);
