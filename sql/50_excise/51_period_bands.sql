-- table: excise.period_bands
-- grain: what one month adds to one band of one return
-- key: area, site, period, rate_id, degree, relief, adjustment, month
-- units: quantity in the rate's unit, amounts in the area's currency
-- reads: excise.day_bands, excise.filer_periods, excise.filers, reference.rates, reference.reliefs, reference.areas
-- rule: X6
-- source: 27 CFR 25.163: rounded once, for the return; a month is the period to date less what its earlier months showed

create table excise.period_bands (
    area text not null,
    site text not null,
    period text not null,
    rate_id text not null,
    degree decimal(18,6),
    relief text,
    adjustment boolean not null,
    month text not null,
    rate decimal(18,6) not null,
    quantity_to_date decimal(18,6) not null,
    amount_to_date decimal(18,6) not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null,
    last_of_period boolean not null
);

insert into excise.period_bands by name
with months as (
    select
        bands.area, bands.site, periods.period, bands.rate_id, bands.degree, bands.relief, bands.adjustment, bands.month,
        sum(bands.measure)::decimal(28,10) as measure
    from excise.day_bands as bands
    join excise.filer_periods as periods
        on periods.area = bands.area and periods.site = bands.site
        and bands.date between periods.from_date and periods.to_date
    group by all
),
to_date as (
    select
        months.*,
        sum(measure) over so_far as measure_to_date,
        row_number() over (
            partition by area, site, period, rate_id, degree, relief, adjustment order by month desc
        ) = 1 as last_of_period
    from months
    window so_far as (
        partition by area, site, period, rate_id, degree, relief, adjustment order by month
    )
),
quantities as (
    select
        to_date.*,
        case
            when areas.rounds_each_day then divide6(to_date.measure_to_date, rates.litres_per_unit)
            else rounded(
                divide6(to_date.measure_to_date, rates.litres_per_unit), areas.quantity_places, areas.quantity_mode
            )
        end::decimal(28,6) as quantity_to_date,
        -- A share of the rate, or so much off it; then, where the rate is one for each degree, times the degrees.
        rounded(
            case reliefs.kind
                when 'percent' then rounded(
                    rates.rate::decimal(28,6) * reliefs.percent * 0.01, areas.relief_rate_places, areas.relief_rate_mode
                )
                when 'discount' then rates.rate - rounded(
                    divide10(
                        reliefs.base + reliefs.marginal::decimal(28,6) * (filers.annual_production - reliefs.over),
                        filers.annual_production
                    ),
                    areas.discount_places,
                    areas.discount_mode
                )
                else rates.rate::decimal(28,6)
            end * coalesce(to_date.degree, 1),
            areas.unit_rate_places,
            areas.unit_rate_mode
        )::decimal(18,6) as rate,
        areas.money_places,
        areas.money_mode
    from to_date
    join reference.rates as rates on rates.rate_id = to_date.rate_id
    join reference.areas as areas on areas.area = to_date.area
    join excise.filers as filers on filers.area = to_date.area and filers.site = to_date.site
    left join reference.reliefs as reliefs on reliefs.relief_id = to_date.relief
),
amounts as (
    select *, rounded(quantity_to_date * rate, money_places, money_mode) as amount_to_date
    from quantities
)
select
    * exclude (measure, measure_to_date, money_places, money_mode),
    quantity_to_date - coalesce(lag(quantity_to_date) over before, 0) as quantity,
    amount_to_date - coalesce(lag(amount_to_date) over before, 0) as amount
from amounts
window before as (partition by area, site, period, rate_id, degree, relief, adjustment order by month);
