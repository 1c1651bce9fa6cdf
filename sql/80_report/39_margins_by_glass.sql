-- table: report.margins_by_glass
-- grain: one beer, in kegs or in cans and bottles, in one month
-- key: month, beer, form
-- units: the books' currency per barrel, half-litre and US pint. Of kegs a half-litre and a pint are served ones: the pour
--   loss of brewery.toml is taken off
-- reads: report.contributions, record.packages, record.beers, reference.margin_settings
-- rule: M4
-- source: 1 bbl = 248 US pints = 117.347765304 L exactly (NIST HB 44)

create table report.margins_by_glass (
    month text not null,
    beer text not null,
    form text not null,
    drink text not null,
    bbl decimal(18,6),
    margin decimal(18,6),
    margin_per_bbl decimal(18,6),
    revenue_per_half_litre decimal(18,6),
    cost_per_half_litre decimal(18,6),
    margin_per_half_litre decimal(18,6),
    revenue_per_pint decimal(18,6),
    cost_per_pint decimal(18,6),
    margin_per_pint decimal(18,6),
    margin_pct decimal(18,6),
    primary key (month, beer, form)
);

insert into report.margins_by_glass by name
with
forms as (
    select contributions.*,
        case when packages.form = 'bottled' then 'can or bottle' else 'keg' end as form,
        case when beers.tax_class = 'soft_drink' then 'soft drink' else 'beer' end as drink
    from report.contributions
    left join record.packages on packages.package = contributions.package
    left join record.beers on beers.beer = contributions.beer
    where contributions.beer is not null
),
summed as (
    select month, beer, form, drink, sum(bbl) as bbl, whole_sum(revenue) as revenue,
        sum(cost_of_goods_sold + duty + freight) as cost, whole_sum(margin) as margin
    from forms
    group by month, beer, form, drink
),
served as (
    select summed.*,
        part6(bbl, case form when 'keg' then 1 - margin_settings.pour_loss_pct::double / 100 else 1 end, 1) as served_bbl
    from summed
    cross join reference.margin_settings
)
select month, beer, form, drink, bbl, margin,
    per(margin, bbl) as margin_per_bbl,
    case when served_bbl <> 0 then part6(revenue, 1, served_bbl * 234.695530608::double) end as revenue_per_half_litre,
    case when served_bbl <> 0 then part6(cost, 1, served_bbl * 234.695530608::double) end as cost_per_half_litre,
    case when served_bbl <> 0 then part6(margin, 1, served_bbl * 234.695530608::double) end as margin_per_half_litre,
    case when served_bbl <> 0 then part6(revenue, 1, served_bbl * 248::double) end as revenue_per_pint,
    case when served_bbl <> 0 then part6(cost, 1, served_bbl * 248::double) end as cost_per_pint,
    case when served_bbl <> 0 then part6(margin, 1, served_bbl * 248::double) end as margin_per_pint,
    percent(margin, revenue) as margin_pct
from served;
