-- table: result.margins
-- grain: one beer, package and account in a month
-- key: month, beer, style, package, account, account_kind, area
-- units: packages, bbl, money
-- reads: cost.shipment_costs, cost.prices, excise.removal_duty, record.shipments, record.returns, record.credits,
--   record.accounts, record.beers, reference.sites
-- rule: M1, M2
-- source: margin = revenue - cost of goods sold - duty - freight; the purposes that are cost of goods sold, less what
--   restocked returns put back and credits gave back

create table result.margins (
    month text not null,
    beer text,
    style text,
    package text,
    account text,
    account_kind text,
    area text,
    units decimal(18,6) not null,
    bbl decimal(18,6) not null,
    revenue decimal(18,6),
    cost_of_goods_sold decimal(18,6) not null,
    duty decimal(18,6) not null,
    freight decimal(18,6) not null,
    margin decimal(18,6)
);

insert into result.margins by name
with
duty as (
    select kind, document, line, sum(amount) as duty
    from excise.removal_duty
    group by kind, document, line
),
lines as (
    select costs.month, costs.site, costs.beer, costs.package, costs.account, costs.units, costs.bbl,
        case when costs.kind = 'return' then 0 else prices.revenue end as revenue,
        costs.kind <> 'return' and prices.revenue is null as unpriced,
        costs.cost, coalesce(duty.duty, 0) as duty, coalesce(shipments.freight, 0) as freight
    from cost.shipment_costs as costs
    left join cost.prices using (kind, document, line)
    left join duty on costs.kind <> 'return' and duty.kind = costs.kind and duty.document = costs.document
        and duty.line = costs.line
    left join record.shipments on costs.kind = 'shipment' and shipments.document = costs.document
        and shipments.line = costs.line
    where costs.of_goods_sold
    union all by name
    -- The money and the duty of every return, restocked or not; its cost stands above where it was restocked.
    select month_of(returns.date) as month, returns.site, returns.beer, returns.package, returns.account, 0 as units,
        0 as bbl, -returns.credit as revenue, false as unpriced, 0 as cost, coalesce(duty.duty, 0) as duty,
        0 as freight
    from record.returns
    left join duty on duty.kind = 'return' and duty.document = returns.document and duty.line = returns.line
    union all by name
    select month_of(date) as month, null as site, beer, package, account, 0 as units, 0 as bbl,
        -amount as revenue, false as unpriced, 0 as cost, 0 as duty, 0 as freight
    from record.credits
),
summed as (
    select
        lines.month, lines.beer, beers.style, lines.package, lines.account, accounts.kind as account_kind,
        coalesce(accounts.area, sites.area) as area,
        sum(lines.units) as units,
        sum(lines.bbl) as bbl,
        case when not bool_or(lines.unpriced) then sum(lines.revenue) end as revenue,
        sum(lines.cost) as cost_of_goods_sold,
        sum(lines.duty) as duty,
        sum(lines.freight) as freight
    from lines
    left join record.beers on beers.beer = lines.beer
    left join record.accounts on accounts.account = lines.account
    left join reference.sites on sites.site = lines.site
    group by all
)
select *, revenue - cost_of_goods_sold - duty - freight as margin
from summed
where units <> 0 or bbl <> 0 or revenue is null or revenue <> 0 or cost_of_goods_sold <> 0 or duty <> 0
    or freight <> 0;
