-- table: excise.problems
-- grain: one finding about removals and duty
-- key: none
-- units: as each message says
-- reads: excise.charges, excise.removals, excise.taxed, excise.package_equivalents, excise.packages, excise.filers, reference.areas, reference.filers, reference.rates, reference.sites, reference.settings, record.packaging, excise.remission_years, record.opening_duty, excise.days, excise.return_records
-- rule: X1 to X5, Areas
-- source: a rate is never guessed and a duty never a silent 0

create table excise.problems (
    severity text not null check (severity in ('error', 'warning')),
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    expected text,
    message text not null,
    action text
);

insert into excise.problems by name
with charged as (
    select charges.area, charges.known, charges.payer, removals.* exclude (area)
    from excise.charges as charges
    join excise.removals as removals
        on removals.document = charges.document and removals.line = charges.line and removals.kind = charges.kind
),
-- Each tax of an area wants its own rate for each removal.
unrated as (
    select
        charged.*, taxes.tax, areas.currency, settings.currency as books_currency, areas.name as area_name,
        taxes.first_day, taxes.asks_abv, taxes.asks_plato
    from charged
    join reference.areas as areas on areas.area = charged.area and areas.event = 'removal'
    cross join reference.settings as settings
    join (
        select
            area, tax, min(from_date) as first_day, bool_or(basis = 'hL_plato') as asks_plato,
            bool_or(basis in ('hL_abv', 'L_alcohol') or abv_low is not null or abv_high is not null) as asks_abv
        from reference.rates
        group by area, tax
    ) as taxes on taxes.area = charged.area
    anti join excise.taxed as taxed
        on taxed.document = charged.document and taxed.line = charged.line and taxed.kind = charged.kind
        and taxed.area = charged.area and taxed.tax = taxes.tax
    where charged.payer = 'brewer' and charged.litres <> 0
),
-- What is counted in the year that the books begin in, where what came before is not said. A band may have been full by then:
-- `by_now` is how far the count would be had the months before been as those in the books (a rule of ours; most never fill one).
unsaid as (
    select days.area, days.tax, rates.counter, begun.year_begins, begun.first_day,
        sum(days.taxable)::double * (max(days.date) - begun.year_begins + 1) / (max(days.date) - begun.first_day + 1)
            as by_now,
        min(band_edge(rates.up_to, rates.up_to_quota, filers.quota_bbl, rates.bands_litres)) as full_at
    from excise.days as days
    join reference.rates as rates on rates.area = days.area and rates.class = days.class and rates.band_no = 1
        and rates.counter is not null
    join excise.filers as filers on filers.area = days.area and filers.site = days.site
    join (
        select areas.area, settings.first_day, counting_year(settings.first_day, areas.counter_month) as year_begins
        from reference.areas as areas
        cross join reference.settings as settings
        anti join record.opening_duty as opening on opening.area = areas.area and opening.removed_bbl is not null
    ) as begun on begun.area = days.area and begun.first_day > begun.year_begins
        and days.date < begun.year_begins + interval 1 year
    group by days.area, days.tax, rates.counter, begun.year_begins, begun.first_day
),
unrated_fillings as (
    select areas.area, areas.name as area_name, areas.currency, packaging.*
    from record.packaging as packaging
    join reference.sites as sites on sites.site = packaging.site
    join reference.areas as areas on areas.area = country_of(sites.area) and areas.event = 'packaging'
    left join volume.lots as lots on lots.site = packaging.site and lots.lot = packaging.lot
    join record.beers as beers on beers.beer = coalesce(packaging.beer, lots.beer)
    anti join excise.taxed as taxed
        on taxed.document = packaging.run and taxed.line = packaging.line and taxed.kind = 'packaging'
        and taxed.area = areas.area
    where packaging.filled > 0
        and list_contains(areas.tax_classes, coalesce(beers.tax_class, 'beer'))
),
unfiled as (
    select taxed.area, taxed.document, removals.* exclude (document, area)
    from excise.taxed as taxed
    join excise.removals as removals
        on removals.document = taxed.document and removals.line = taxed.line and removals.kind = taxed.kind
    anti join excise.filer_periods as periods
        on periods.area = taxed.area and periods.site = taxed.site
        and taxed.date between periods.from_date and periods.to_date
),
fileless as (
    select area, 'deliveries there' as why from excise.charges where not known
    union
    select sites.area, 'the site ' || sites.site as why
    from reference.sites as sites
    anti join reference.areas as areas on areas.area = sites.area
    union
    select country_of(sites.area), 'the site ' || sites.site as why
    from reference.sites as sites
    anti join reference.areas as areas on areas.area = country_of(sites.area)
    union
    select filers.area, '[[filers]] in brewery.toml' as why
    from reference.filers as filers
    anti join reference.areas as areas on areas.area = filers.area
)
select
    'warning' as severity, 'no-area-file' as code, 'area' as field, area as value,
    case when area like '%-XX' then 'the area the site stands in' else 'a file areas/' || area || '.toml' end as expected,
    'no area file for ' || area || ' (' || string_agg(why, ', ' order by why) || '): no duty is computed for it, which does '
        || 'not mean that none is due' as message,
    case
        when area like '%-XX' then 'set `area` of the site in brewery.toml'  -- no such place: as a new brewery.toml has it
        else 'put areas/' || area || '.toml into the brewery''s folder, or ask that authority what is due'
    end as action
from fileless
group by area
union all by name
select
    'error' as severity, 'currency-unlike-books' as code, month, file, sheet, row, 'document' as field,
    document as value, 'books in ' || currency as expected,
    area || ' taxes ' || document || ' line ' || line || ' in ' || currency || ', the books are in ' || books_currency
        || ': no duty computed' as message,
    'keep the books of a site in the currency of its country' as action
from unrated
where currency <> books_currency
union all by name
select
    'error' as severity, 'no-strength' as code, month, file, sheet, row, 'beer' as field, beer as value,
    case when asks_plato then 'original_plato' else 'abv_pct' end || ' of the beer' as expected,
    area || ' taxes ' || document || ' line ' || line || ' by its strength, and the beers record of ' || beer
        || ' has none: no duty computed' as message,
    'fill ' || case when asks_plato then 'original_plato' else 'abv_pct' end || ' in the beers record' as action
from unrated
where currency = books_currency
    and ((asks_plato and original_plato is null) or (asks_abv and abv_pct is null))
union all by name
select
    'error' as severity, 'no-rate' as code, month, file, sheet, row, 'date' as field, date::text as value,
    case when date < first_day then 'a date from ' || first_day || ' on' else 'a rate that covers it' end as expected,
    area || ' (' || area_name || ', ' || tax || ') has no rate for ' || document || ' line ' || line || ' on ' || date
        || case when date < first_day then ': its first known rate starts on ' || first_day else '' end
        || ': no duty computed' as message,
    'check the date, or put a file with the rate and its source into areas/' as action
from unrated
where currency = books_currency
    and not ((asks_plato and original_plato is null) or (asks_abv and abv_pct is null))
union all by name
select
    'error' as severity, 'no-rate' as code, month_of(date) as month, file, sheet, row, 'date' as field,
    date::text as value, 'a rate in ' || currency || ' that covers it, and abv_pct of the beer' as expected,
    area || ' (' || area_name || ', duty at packaging) has no rate for run ' || run || ' line ' || line || ' on ' || date
        || ': no duty computed' as message,
    'check the date and the strength, or put a file with the rate and its source into areas/' as action
from unrated_fillings
union all by name
select
    'error' as severity, 'no-return-period' as code, month, file, sheet, row, 'date' as field, date::text as value,
    'a date in a return period of ' || area as expected,
    area || ' has no return period for ' || document || ' line ' || line || ' on ' || date as message,
    'check the date' as action
from unfiled
union all by name
select
    'warning' as severity, 'unlisted-size' as code, min(charged.month) as month, 'package' as field,
    charged.package as value, 'a size of the authority''s table' as expected,
    charged.area || ': ' || charged.package || ' (' || any_value(packages.containers) || ' x '
        || any_value(packages.container_ml) || ' mL) counts as ' || any_value(equivalents.barrels) || ' bbl, '
        || coalesce(any_value(areas.not_listed), 'not in the authority''s table') as message,
    'ask the authority, then write the figure as excise_bbl of the package' as action
from charged
join excise.package_equivalents as equivalents
    on equivalents.area = charged.area and equivalents.package = charged.package and equivalents.origin = 'computed'
join excise.packages as packages on packages.package = charged.package
join reference.areas as areas on areas.area = charged.area
where areas.not_listed is not null
group by charged.area, charged.package
union all by name
select
    'warning' as severity, 'keep-proof' as code, month, file, sheet, row, 'purpose' as field, purpose as value,
    'proof of the loss' as expected,
    document || ' line ' || line || ': ' || beer || ' lost by casualty bears no duty while the loss is proven' as message,
    'keep the reports that prove the fire, theft or accident, and report it at once where the authority asks' as action
from excise.removals
where purpose = 'casualty' and treatment = 'free' and kind = 'shipment'
union all by name
select
    'warning' as severity, 'overfilled-keg' as code, month_of(packaging.date) as month, packaging.file, packaging.sheet,
    packaging.row, 'average_fill' as field, packaging.average_fill_bbl::decimal(18,6)::text as value,
    'at most ' || areas.keg_overfill_pct::decimal(9,1) || ' % over the size of the keg' as expected,
    areas.area || ': the kegs of run ' || packaging.run || ' hold ' || packaging.average_fill_bbl::decimal(18,6) || ' bbl, more than '
        || areas.keg_overfill_pct::decimal(9,1) || ' % over their size, and duty is on what they hold' as message,
    'check the filler, taxed on the actual quantity' as action
from record.packaging as packaging
join reference.sites as sites on sites.site = packaging.site
join reference.areas as areas on areas.area = country_of(sites.area) and areas.keg_overfill_pct is not null
join excise.packages as packages on packages.package = packaging.package and packages.form = 'keg'
where packaging.average_fill_bbl::decimal(28,10) * packages.bbl_denominator * packages.containers * 100
    > packages.bbl_numerator * (100 + areas.keg_overfill_pct)
    -- That is told as fill-unlike-package.
    and not fill_unlike(packaging.average_fill_bbl, packages.containers, packages.bbl_numerator, packages.bbl_denominator)
union all by name
select distinct
    'warning' as severity, 'tax-class-unlike-strength' as code, beers.file, beers.sheet, beers.row, 'tax_class' as field,
    beers.tax_class as value,
    'beer from ' || areas.beer_from_abv::decimal(9,1) || ' % abv on, cereal_beverage under it' as expected,
    beers.beer || ' has ' || beers.abv_pct::decimal(9,2) || ' % abv and is taxed as ' || beers.tax_class as message,
    'check abv_pct and tax_class' as action
from record.beers as beers
join reference.sites as sites on true
join reference.areas as areas on areas.area = country_of(sites.area)
where (beers.tax_class = 'beer' and beers.abv_pct < areas.beer_from_abv)
    or (beers.tax_class = 'cereal_beverage' and beers.abv_pct >= areas.beer_from_abv)
union all by name
-- A production between the steps the sources give: the full rate is used, and said.
select distinct
    'warning' as severity, 'no-relief-step' as code, 'annual_production' as field,
    filers.annual_production::text as value, 'a production within a known step of the relief' as expected,
    taxed.area || ': no step of the small producer''s relief is known for a production of '
        || filers.annual_production::decimal(18,2) || ' ' || coalesce(areas.production_unit, '')
        || ' (' || taxed.form || '): computed at the full rate' as message,
    'ask the authority for the rate' as action
from excise.taxed as taxed
join excise.filers as filers on filers.area = taxed.area and filers.site = taxed.site
join reference.areas as areas on areas.area = taxed.area
join excise.removals as removals
    on removals.document = taxed.document and removals.line = taxed.line and removals.kind = taxed.kind
join reference.reliefs as reliefs
    on reliefs.area = taxed.area
    and taxed.date between reliefs.from_date and coalesce(reliefs.to_date, taxed.date)
    and (reliefs.producer is null or reliefs.producer = filers.producer)
    and filers.annual_production <= areas.relief_until
    and one_of(reliefs.forms, taxed.form)
    and one_of(reliefs.purposes, removals.purpose)
    and one_of(reliefs.account_kinds, removals.account_kind)
    and one_of(reliefs.brewed_by, taxed.brewed_by)
    and within(rounded(removals.abv_pct, areas.abv_places, areas.abv_mode),
        reliefs.abv_low, reliefs.abv_low_in, reliefs.abv_high, reliefs.abv_high_in)
    and within(abs(removals.container_ml), reliefs.size_low, reliefs.size_low_in, reliefs.size_high, reliefs.size_high_in)
where taxed.relief is null
union all by name
select
    'warning' as severity, 'return-period-too-long' as code, month_of(date) as month, 'return_period' as field,
    length as value, 'at most ' || at_most_tax::decimal(18,0) || ' of tax a year' as expected,
    area || ': on ' || date || ' the tax of ' || year || ' came to ' || tax::decimal(18,2) || ', more than the '
        || at_most_tax::decimal(18,0) || ' of a filer whose period is ' || length
        || coalesce(': unpaid tax is due on ' || next_due || ', with period ' || next_period || ' (' || next_length || ')', '')
        as message,
    'change return_period of the filer in brewery.toml from that day on, and file as the authority asks' as action
from excise.notices
union all by name
select
    'error' as severity, 'no-filer' as code, month_of(date) as month, file, sheet, row,
    case when site is null then 'area' else 'site' end as field, coalesce(site, area) as value,
    'an area, and a site, that files a return' as expected,
    area || coalesce(': the site ' || site || ' files no return there', ': no return is filed there')
        || ', so the ' || case kind when 'opening' then 'duty brought forward' else kind end || ' for ' || period
        || ' counts nowhere' as message,
    'correct area and site; where the brewery does file there, write [[filers]] into brewery.toml' as action
from excise.return_records
where not has_filer and (kind <> 'opening' or amount <> 0)
union all by name
select
    'warning' as severity, 'site-not-named' as code, month_of(date) as month, file, sheet, row, 'site' as field,
    site as value, 'the site whose return it is of' as expected,
    area || ': more than one site files returns, and the ' || kind || ' for ' || period || ' names none: it is taken as that of '
        || site as message,
    'write the site' as action
from excise.return_records
where is_choice and kind <> 'opening'
union all by name
select
    'warning' as severity, 'no-such-return' as code, month_of(date) as month, file, sheet, row, 'period' as field,
    period as value, 'a period such as ' || example as expected,
    records.area || ': ' || records.site || ' files no return for ' || records.period || ', so the ' || records.kind
        || ' stands on none' as message,
    'write the period as the area names it' as action
from excise.return_records as records
left join (
    select area, site, min(period) as example from excise.filer_periods group by area, site
) as named using (area, site)
where records.has_filer and not records.has_return
union all by name
select
    'error' as severity, 'filed-twice' as code, month_of(date) as month, file, sheet, row, 'period' as field,
    period as value, 'one filing of a return' as expected,
    area || ' ' || period || ' (' || site || ') is filed twice; the later filing counts' as message,
    'keep the filing that the authority has; name the site of each where two sites file' as action
from excise.return_records
where kind = 'filing' and has_filer and not last
union all by name
select
    'warning' as severity, 'filed-return-changed' as code, null as month, file, sheet, row, 'amount' as field,
    filed_amount::decimal(18,2)::text as value, amount::decimal(18,2)::text as expected,
    area || ' ' || period || ' (' || site || ') was filed with ' || money(filed_amount) || ', the records now give '
        || money(amount) || ': an adjustment ' || direction || ' by ' || money(abs(difference))
        || coalesce(' on the return of ' || next_period, ' on the next return') as message,
    'explain it on the next return' as action
from excise.adjustments
union all by name
select
    'warning' as severity, 'claim-to-make' as code, month_of(date) as month, file, sheet, row,
    case when reason = 'lost on the way in bond' then 'quantity_shipped' else 'units' end as field,
    bbl::decimal(18,2)::text as value, 'a claim by ' || claim_by as expected,
    area || ': ' || document || ' line ' || line || ', ' || bbl::decimal(18,2) || ' bbl of ' || beer || ' (' || reason
        || ') is no offset: tax of ' || coalesce(money(amount), 'unknown amount') || ' may be claimed until '
        || claim_by as message,
    'file the claim in time' as action
from excise.claims
union all by name
select
    'warning' as severity, 'payer-not-known' as code, min(charged.month) as month, 'area' as field,
    charged.area as value, 'who pays on a sale to a wholesaler' as expected,
    charged.area || ': the sources read do not say whether the brewer or the wholesaler pays on '
        || count(*) || ' deliveries to wholesalers, so they are computed as the brewery''s' as message,
    'ask ' || any_value(areas.authority) || ', then put areas/' || charged.area || '.toml with the payer into the folder'
        as action
from charged
join reference.areas as areas on areas.area = charged.area and areas.level <> 'country' and areas.payer_source is null
where charged.account_kind = 'wholesaler'
group by charged.area
union all by name
select
    'warning' as severity, 'remission-before-books' as code, strftime(settings.first_day, '%Y-%m') as month,
    'tax_remitted' as field, years.from_date::text as value, 'a row of opening_duty for ' || years.area as expected,
    years.area || ': the year from ' || years.from_date || ' whose duty is remitted up to ' || years.cap::decimal(18,2)
        || ' began before the books, and opening_duty does not say how much of it is used up: none is taken to be' as message,
    'write into opening_duty what was remitted since ' || years.from_date || ', 0 where nothing was' as action
from excise.remission_years as years
cross join reference.settings as settings
where settings.first_day > years.from_date and settings.first_day <= years.to_date
    and not exists (select 1 from record.opening_duty as opening where opening.area = years.area)
union all by name
select
    'warning' as severity, 'quota-before-books' as code, strftime(any_value(first_day), '%Y-%m') as month,
    'removed_bbl' as field, any_value(year_begins)::text as value, 'a row of opening_duty for ' || area as expected,
    area || ': the year from ' || any_value(year_begins)
        || ' over which removals are counted began before the books, and opening_duty does not say how many barrels had been '
        || 'removed: none are taken to be, though at the rate of the books the first band would be full by now' as message,
    'write into opening_duty the barrels removed since ' || any_value(year_begins) || ', 0 where none were' as action
from unsaid
where by_now > full_at
group by area;
