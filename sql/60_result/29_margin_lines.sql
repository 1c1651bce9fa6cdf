-- table: result.margin_lines
-- grain: one shipment line, return line, serving-tank fill or credit with what it adds to the margin
-- key: none (a restocked return has a line for its money and one for its cost)
-- units: packages, bbl, money; revenue null where no price is known
-- reads: cost.shipment_costs, cost.prices, excise.removal_duty, record.shipments, record.returns, record.credits,
--   record.accounts, record.beers, reference.sites
-- rule: M1, M2
-- source: the purposes that are cost of goods sold, less what restocked returns put back and credits gave back

create table result.margin_lines (
    month text not null,
    kind text not null,
    document text not null,
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
    file text not null,
    sheet text,
    row bigint not null
);

insert into result.margin_lines by name
with
duty as (
    select kind, document, line, sum(amount) as duty
    from excise.removal_duty
    group by kind, document, line
),
lines as (
    select costs.month, costs.kind, costs.document, costs.site, costs.beer, costs.package, costs.account, costs.units,
        costs.bbl, case when costs.kind = 'return' then 0 else prices.revenue end as revenue,
        costs.cost as cost_of_goods_sold, coalesce(duty.duty, 0) as duty, coalesce(shipments.freight, 0) as freight,
        costs.file, costs.sheet, costs.row
    from cost.shipment_costs as costs
    left join cost.prices using (kind, document, line)
    left join duty on costs.kind <> 'return' and duty.kind = costs.kind and duty.document = costs.document
        and duty.line = costs.line
    left join record.shipments on costs.kind = 'shipment' and shipments.document = costs.document
        and shipments.line = costs.line
    where costs.of_goods_sold
    union all by name
    -- The money and the duty of every return, restocked or not; its cost stands above where it was restocked.
    select month_of(returns.date) as month, 'return' as kind, returns.document, returns.site, returns.beer,
        returns.package, returns.account, 0 as units, 0 as bbl, -returns.credit as revenue, 0 as cost_of_goods_sold,
        coalesce(duty.duty, 0) as duty, 0 as freight, returns.file, returns.sheet, returns.row
    from record.returns
    left join duty on duty.kind = 'return' and duty.document = returns.document and duty.line = returns.line
    union all by name
    select month_of(date) as month, 'credit' as kind, document, null as site, beer, package, account, 0 as units,
        0 as bbl, -amount as revenue, 0 as cost_of_goods_sold, 0 as duty, 0 as freight, file, sheet, row
    from record.credits
)
select lines.* exclude (site), beers.style, accounts.kind as account_kind, coalesce(accounts.area, sites.area) as area
from lines
left join record.beers on beers.beer = lines.beer
left join record.accounts on accounts.account = lines.account
left join reference.sites on sites.site = lines.site;
