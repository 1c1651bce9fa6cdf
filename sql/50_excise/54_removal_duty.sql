-- table: excise.removal_duty
-- grain: one removal's share of one area's duty
-- key: document, line, kind, area
-- units: quantity in the area's unit, amount in its currency
-- reads: excise.taxed, excise.days, excise.day_bands, excise.period_bands, excise.filer_periods, reference.rates
-- rule: M2, X6
-- source: each month's duty of a band over the removals that caused it, by exact quantity, to the cent; the remainder to the largest part

create table excise.removal_duty (
    document text not null,
    line bigint not null,
    kind text not null,
    area text not null,
    site text not null,         -- whose return it is in
    month text not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null,
    primary key (document, line, kind, area)
);

insert into excise.removal_duty by name
with day_parts as (
    -- How much of a day's net quantity fell into each band; what came back in excess is a day's whole net.
    select
        bands.*,
        (bands.measure::double / sum(bands.measure) over (
            partition by bands.area, bands.tax, bands.class, bands.degree, bands.relief, bands.site, bands.date, bands.form
        )::double) as fraction
    from excise.day_bands as bands
),
weights as (
    select
        taxed.document, taxed.line, taxed.kind, taxed.area, taxed.site, taxed.month, periods.period,
        parts.rate_id, parts.degree, parts.relief, parts.adjustment,
        sum((taxed.measure::double * parts.fraction)::decimal(28,10)) as weight
    from excise.taxed as taxed
    join day_parts as parts
        on parts.area = taxed.area and parts.tax = taxed.tax and parts.class = taxed.class
        and parts.degree is not distinct from taxed.degree and parts.relief is not distinct from taxed.relief
        and parts.site = taxed.site and parts.date = taxed.date and parts.form = taxed.form
    join excise.filer_periods as periods
        on periods.area = taxed.area and periods.site = taxed.site
        and taxed.date between periods.from_date and periods.to_date
    group by all
),
shares as (
    select
        weights.*,
        bands.amount as band_amount,
        round(
            (bands.amount::double * weights.weight::double / nullif(sum(weights.weight) over band, 0)::double)
                ::decimal(28,10),
            2
        )::decimal(18,6) as share,
        row_number() over (
            partition by weights.area, weights.site, weights.period, weights.rate_id, weights.degree, weights.relief,
                weights.adjustment, weights.month
            order by abs(weights.weight) desc, weights.document, weights.line, weights.kind
        ) as place
    from weights
    join excise.period_bands as bands
        on bands.area = weights.area and bands.site = weights.site and bands.period = weights.period
        and bands.rate_id = weights.rate_id and bands.degree is not distinct from weights.degree
        and bands.relief is not distinct from weights.relief and bands.adjustment = weights.adjustment
        and bands.month = weights.month
    window band as (
        partition by weights.area, weights.site, weights.period, weights.rate_id, weights.degree, weights.relief,
            weights.adjustment, weights.month
    )
),
exact as (
    select
        document, line, kind, area,
        coalesce(share, 0) + case when place = 1 then band_amount - sum(coalesce(share, 0)) over (
            partition by area, site, period, rate_id, degree, relief, adjustment, month
        ) else 0 end as amount
    from shares
),
amounts as (
    select document, line, kind, area, sum(amount) as amount
    from exact
    group by all
),
quantities as (
    select taxed.document, taxed.line, taxed.kind, taxed.area, taxed.site, taxed.month,
        sum(divide6(taxed.measure, rates.litres_per_unit)) as quantity
    from excise.taxed as taxed
    join reference.rates as rates on rates.area = taxed.area and rates.class = taxed.class and rates.band_no = 1
    where taxed.tax = (select min(taxes.tax) from reference.rates as taxes where taxes.area = taxed.area)
    group by all
)
select quantities.*, coalesce(amounts.amount, 0) as amount
from quantities
left join amounts using (document, line, kind, area);
