-- table: report.contributions
-- grain: one beer, style, package, account and area in a month, as in result.margins
-- key: month, beer, style, package, account, account_kind, area
-- units: packages, bbl, money. contribution = revenue - variable cost - cost not known to be fixed - duty - freight =
--   margin + fixed cost
-- reads: result.margins, result.margin_parts
-- rule: M3
-- source: what truly varies with a barrel sold. The parts of a beer, package and account that has rows in several areas are
--   shared over them by cost; the remainder goes to the largest

create table report.contributions (
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
    variable_cost decimal(18,6) not null,
    fixed_cost decimal(18,6) not null,
    duty decimal(18,6) not null,
    freight decimal(18,6) not null,
    margin decimal(18,6),
    contribution decimal(18,6)
);

insert into report.contributions by name
with
shares as (
    select margins.*, parts.fixed_cost as whole_fixed,
        case
            when parts.fixed_cost is null then 0
            when sum(margins.cost_of_goods_sold) over line = 0 then 0
            else part6(parts.fixed_cost, margins.cost_of_goods_sold, sum(margins.cost_of_goods_sold) over line)
        end as share,
        row_number() over (
            partition by margins.month, margins.beer, margins.package, margins.account
            order by margins.cost_of_goods_sold desc, margins.area
        ) as place
    from result.margins
    left join result.margin_parts as parts on parts.month = margins.month
        and parts.beer is not distinct from margins.beer and parts.package is not distinct from margins.package
        and parts.account is not distinct from margins.account
    window line as (partition by margins.month, margins.beer, margins.package, margins.account)
),
fixed as (
    select *,
        share + case
            when place = 1 then coalesce(whole_fixed, 0)
                - sum(share) over (partition by month, beer, package, account)
            else 0
        end as fixed_cost
    from shares
)
select month, beer, style, package, account, account_kind, area, units, bbl, revenue, cost_of_goods_sold,
    cost_of_goods_sold - fixed_cost as variable_cost, fixed_cost, duty, freight, margin,
    margin + fixed_cost as contribution
from fixed;
