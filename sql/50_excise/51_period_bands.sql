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
-- Each rounding is a step of its own: the macro names its argument several times, and nested it grows as a power.
exact as (
    select
        to_date.*,
        divide6(to_date.measure_to_date, rates.litres_per_unit)::decimal(28,6) as exact_quantity,
        rates.rate::decimal(28,6) as full_rate,
        reliefs.kind as relief_kind,
        -- What is rounded first: the reduced rate, or what is taken off it.
        (case reliefs.kind
            when 'percent' then rates.rate::decimal(28,6) * reliefs.percent * 0.01
            when 'discount' then divide10(
                reliefs.base + reliefs.marginal::decimal(28,6) * (filers.annual_production - reliefs.over),
                filers.annual_production
            )
        end)::decimal(28,10) as relief_figure,
        coalesce(
            case reliefs.kind when 'percent' then areas.relief_rate_places when 'discount' then areas.discount_places end, 6
        ) as relief_places,
        case reliefs.kind when 'percent' then areas.relief_rate_mode when 'discount' then areas.discount_mode end
            as relief_mode,
        areas.rounds_each_day, areas.quantity_places, areas.quantity_mode, areas.unit_rate_places, areas.unit_rate_mode,
        areas.money_places, areas.money_mode
    from to_date
    join reference.rates as rates on rates.rate_id = to_date.rate_id
    join reference.areas as areas on areas.area = to_date.area
    join excise.filers as filers on filers.area = to_date.area and filers.site = to_date.site
    left join reference.reliefs as reliefs on reliefs.relief_id = to_date.relief
),
relieved as (
    select *, rounded(relief_figure, relief_places, relief_mode) as relief_rounded
    from exact
),
-- A share of the rate, or so much off it; then, where the rate is one for each degree, times the degrees.
unit_rates as (
    select *,
        (case relief_kind
            when 'percent' then relief_rounded
            when 'discount' then full_rate - relief_rounded
            else full_rate
        end * coalesce(degree, 1))::decimal(28,10) as exact_rate
    from relieved
),
quantities as (
    select
        * exclude (relief_places, unit_rate_places),
        case
            when rounds_each_day then exact_quantity
            else rounded(exact_quantity, quantity_places, quantity_mode)
        end::decimal(28,6) as quantity_to_date,
        rounded(exact_rate, unit_rate_places, unit_rate_mode)::decimal(18,6) as rate
    from unit_rates
),
amounts as (
    select *, rounded(quantity_to_date * rate, money_places, money_mode) as amount_to_date
    from quantities
)
select
    area, site, period, rate_id, degree, relief, adjustment, month, rate, quantity_to_date, amount_to_date, last_of_period,
    quantity_to_date - coalesce(lag(quantity_to_date) over before, 0) as quantity,
    amount_to_date - coalesce(lag(amount_to_date) over before, 0) as amount
from amounts
window before as (partition by area, site, period, rate_id, degree, relief, adjustment order by month);
