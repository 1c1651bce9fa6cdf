-- table: report.lot_curves
-- grain: one gravity of a lot on its page, the original one on the day it was filled
-- key: site, lot, day
-- units: degrees Plato; days since the lot was filled
-- reads: report.lot_heads, report.lot_gravities
-- rule: U3
-- source: half a degree beside the usual curve: common practice, no source

create table report.lot_curves (
    month text not null,
    page text not null,
    site text not null,
    lot text not null,
    day bigint not null,
    what text not null,
    date date not null,
    plato decimal(18,6) not null,
    usual_plato decimal(18,6),
    gap_plato decimal(18,6)
);

insert into report.lot_curves by name
select heads.month, heads.page, heads.site, heads.lot, read.age_days as day,
    case
        when read.usual_plato is null then 'no earlier lot was read at this age'
        when abs(read.gap_plato) <= 0.5 then 'as its earlier lots'
        when read.gap_plato > 0 then 'above its earlier lots'
        else 'below its earlier lots'
    end as what,
    read.date, read.plato, read.usual_plato, read.gap_plato
from report.lot_gravities as read
join report.lot_heads as heads using (site, lot)
union all by name
select heads.month, heads.page, heads.site, heads.lot, 0 as day, 'original gravity' as what, heads.opened_on as date,
    heads.original_plato as plato
from report.lot_heads as heads
anti join report.lot_gravities as read
    on read.site = heads.site and read.lot = heads.lot and read.age_days = 0
where heads.original_plato is not null
    and exists (select 1 from report.lot_gravities as later where later.site = heads.site and later.lot = heads.lot);
