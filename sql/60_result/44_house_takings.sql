-- table: result.house_takings
-- grain: one beer, package and own house in a month, as far as the glass
-- key: month, account, beer, package
-- units: packages, bbl, money; glasses as brewery.toml has them (of bottled goods: containers)
-- reads: cost.shipment_costs, cost.prices, record.prices, record.accounts, record.packages, reference.margin_settings
-- rule: M4, C11a
-- source: retail_price is the latest prices row with one, for the account, for its kind, for all; a keg pours its barrels
--   less the pour loss, a bottled package sells its containers whole; null where no retail price is given

create table result.house_takings (
    month text not null,
    account text not null,
    beer text,
    package text not null,
    units decimal(18,6) not null,
    bbl decimal(18,6) not null,
    transfer decimal(18,6),
    glasses decimal(18,6) not null,
    takings decimal(18,6)
);

insert into result.house_takings by name
with
lines as (
    select costs.kind, costs.document, costs.line, costs.date, costs.month, costs.account, costs.beer, costs.package,
        costs.units, costs.bbl, accounts.kind as account_kind,
        coalesce(packages.form, 'keg') as form, coalesce(packages.containers, 1) as containers, prices.revenue
    from cost.shipment_costs as costs
    join record.accounts on accounts.account = costs.account and accounts.kind = 'own_location'
    left join record.packages on packages.package = costs.package
    left join cost.prices on prices.kind = costs.kind and prices.document = costs.document and prices.line = costs.line
    where costs.of_goods_sold and costs.kind <> 'return'
),
retail as (
    select prices.*, packages.form
    from record.prices
    left join record.packages using (package)
    where prices.retail_price is not null
),
offers as (
    select lines.kind, lines.document, lines.line, retail.retail_price,
        row_number() over (
            partition by lines.kind, lines.document, lines.line
            order by retail.account is null, retail.account_kind is null, retail.from_date desc, retail.package
        ) as place
    from lines
    -- Beer from a serving tank is sold by the glass as the same beer from a keg.
    join retail on retail.beer = lines.beer and retail.from_date <= lines.date
        and (retail.package = lines.package or lines.package = 'bulk' and retail.form = 'keg')
        and coalesce(retail.account, lines.account) = lines.account
        and coalesce(retail.account_kind, lines.account_kind) = lines.account_kind
),
poured as (
    select lines.*, offers.retail_price,
        case lines.form
            when 'keg' then part6(
                lines.bbl, margin_settings.glasses_per_bbl * (1 - margin_settings.pour_loss_pct::double / 100), 1
            )
            else lines.units * lines.containers
        end as glasses
    from lines
    cross join reference.margin_settings
    left join offers on offers.kind = lines.kind and offers.document = lines.document and offers.line = lines.line
        and offers.place = 1
)
select month, account, beer, package, sum(units) as units, sum(bbl) as bbl,
    case when count(revenue) = count(*) then sum(revenue) end as transfer,
    sum(glasses) as glasses,
    case when count(retail_price) = count(*)
        then sum(at_price(glasses, retail_price)) end as takings
from poured
group by month, account, beer, package;
