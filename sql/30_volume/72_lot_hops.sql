-- table: volume.lot_hops
-- grain: one day on which hops were put into a lot
-- key: site, lot, date
-- units: lb; bbl that the hops of the lot up to that day are allowed to hold back
-- reads: record.uses, record.materials, volume.lots
-- rule: V6
-- source: standards records; hops of the kettle are the brew's and count in no lot, hops not kept by weight have no weight

create table volume.lot_hops (
    site text not null,
    lot text not null,
    date date not null,
    hops_lb decimal(18,6) not null,
    so_far_lb decimal(18,6) not null,
    allowed_so_far_bbl decimal(18,6) not null
);

insert into volume.lot_hops by name
with
weighed as (
    select uses.site, uses.lot, uses.date, sum(at_price(uses.stock_qty, materials.lb_per_stock_unit)) as hops_lb
    from record.uses
    join record.materials using (material)
    where materials.kind = 'hops' and uses.lot is not null and materials.lb_per_stock_unit is not null
    group by uses.site, uses.lot, uses.date
),
running as (
    select weighed.*, lots.hop_bbl_per_lb,
        sum(weighed.hops_lb) over (partition by weighed.site, weighed.lot order by weighed.date) as so_far_lb
    from weighed
    join volume.lots on lots.site = weighed.site and lots.lot = weighed.lot
        and weighed.date between lots.opened_on and coalesce(lots.emptied_on, weighed.date)
)
select site, lot, date, hops_lb, so_far_lb, at_price(so_far_lb, hop_bbl_per_lb) as allowed_so_far_bbl
from running;
