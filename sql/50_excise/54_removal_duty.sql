-- table: excise.removal_duty
-- grain: one removal's share of one area's duty
-- key: document, line, kind, area
-- units: quantity in the area's unit, amount in its currency
-- reads: excise.taxed, excise.day_bands, excise.period_bands, excise.filer_periods, excise.remission_years, reference.rates
-- rule: M2, X6
-- source: each month's duty of a band over the removals that caused it, by exact quantity, to the cent; the remainder to the largest part.
--   A remission takes the duty of the year in order of date up to its cap, as in excise.remissions

-- The key holds by the grouping, a test says so: an index over every removal takes longer than the computation.
create table excise.removal_duty (
    document text not null,
    line bigint not null,
    kind text not null,
    area text not null,
    site text not null,         -- whose return it is in
    month text not null,
    quantity decimal(18,6) not null,
    amount decimal(18,6) not null,
    remitted decimal(18,6) not null     -- what the amount would be more without the remission
);

insert into excise.removal_duty by name
with
-- The bands that a day's beer of one form fell into, and how much of the day each took; what came back in excess is a
-- day's whole net.
day_parts as (
    select
        bands.*, periods.period,
        bands.measure::double / sum(bands.measure) over (
            partition by bands.area, bands.tax, bands.class, bands.degree, bands.relief, bands.site, bands.date, bands.form
        )::double as fraction
    from excise.day_bands as bands
    join excise.filer_periods as periods
        on periods.area = bands.area and periods.site = bands.site
        and bands.date between periods.from_date and periods.to_date
),
period_bands as (
    select *, row_number() over (
        order by area, site, period, rate_id, degree, relief, adjustment, month
    ) as band_no
    from excise.period_bands
),
-- From here on a band of a month is a number, so that the rows of the removals stay narrow.
numbered as (
    select parts.area, parts.tax, parts.class, parts.degree, parts.relief, parts.site, parts.date, parts.form,
        parts.fraction, bands.band_no
    from day_parts as parts
    join period_bands as bands
        on bands.area = parts.area and bands.site = parts.site and bands.period = parts.period
        and bands.rate_id = parts.rate_id and bands.degree is not distinct from parts.degree
        and bands.relief is not distinct from parts.relief and bands.adjustment = parts.adjustment
        and bands.month = parts.month
),
weights as materialized (
    select
        taxed.document, taxed.line, taxed.kind, numbered.band_no,
        sum((taxed.measure::double * numbered.fraction)::decimal(28,10)) as weight
    from excise.taxed as taxed
    join numbered
        on numbered.area = taxed.area and numbered.tax = taxed.tax and numbered.class = taxed.class
        and numbered.degree is not distinct from taxed.degree and numbered.relief is not distinct from taxed.relief
        and numbered.site = taxed.site and numbered.date = taxed.date and numbered.form = taxed.form
    group by taxed.document, taxed.line, taxed.kind, numbered.band_no
),
totals as (
    select
        bands.band_no, bands.area, bands.amount, weights.weight,
        -- The largest part (ties: first by key), which takes the remainder.
        weights.largest
    from period_bands as bands
    join (
        select band_no, sum(weight) as weight,
            min({size: -abs(weight), document: document, line: line, kind: kind}) as largest
        from weights
        group by band_no
    ) as weights on weights.band_no = bands.band_no
),
shares as materialized (
    select
        weights.document, weights.line, weights.kind, weights.band_no, totals.area,
        coalesce(rounded2(
            totals.amount::double * weights.weight::double / nullif(totals.weight, 0)::double
        ), 0)::decimal(18,6) as share
    from weights
    join totals on totals.band_no = weights.band_no
),
remainders as (
    select totals.largest.document as document, totals.largest.line as line, totals.largest.kind as kind, totals.area,
        totals.amount - shared.amount as share
    from totals
    join (select band_no, sum(share) as amount from shares group by band_no) as shared
        on shared.band_no = totals.band_no
    where totals.amount <> shared.amount
),
parts as (
    select document, line, kind, area, share, null::decimal(18,6) as quantity, null::text as site,
        null::text as month, null::date as date
    from shares
    union all by name
    select document, line, kind, area, share from remainders
    union all by name
    -- Beer under two taxes of an area counts once.
    select taxed.document, taxed.line, taxed.kind, taxed.area, taxed.site, taxed.month, taxed.date,
        divide6(taxed.measure, rates.litres_per_unit) as quantity
    from excise.taxed as taxed
    join reference.rates as rates on rates.area = taxed.area and rates.class = taxed.class and rates.band_no = 1
    join (select area, min(tax) as tax from reference.rates group by area) as first_taxes
        on first_taxes.area = taxed.area and first_taxes.tax = taxed.tax
),
removals as materialized (
    select document, line, kind, area, any_value(site) as site, any_value(month) as month, any_value(date) as date,
        sum(quantity) as quantity, coalesce(sum(share), 0) as duty
    from parts
    group by document, line, kind, area
),
counted as (
    select removals.*, years.room,
        sum(removals.duty) over (
            partition by removals.area, removals.site, years.from_date
            order by removals.date, removals.document, removals.line, removals.kind
            rows between unbounded preceding and current row
        ) as reached
    from removals
    join excise.remission_years as years
        on years.area = removals.area and years.site = removals.site
        and removals.date between years.from_date and years.to_date
),
remitted as (
    select document, line, kind, area, remitted_of(duty, reached, room) as remitted
    from counted
)
select removals.* exclude (date, duty), removals.duty - coalesce(remitted.remitted, 0) as amount,
    coalesce(remitted.remitted, 0) as remitted
from removals
left join remitted using (document, line, kind, area);
