-- table: record.problems
-- grain: one finding about the records
-- key: none
-- units: none
-- reads: given_problems, given_moves, given_shipments, record.returns, record.shipments, record.accounts, record.first_vessels,
--   record.uses, record.materials, record.packages, record.file_months, reference.sites, reference.units, reference.settings,
--   reference.keg_deposits, reference.ready_made_kegs
-- rule: V7, X4
-- source: kinds.toml; no brewery is a quarter of a year without a record (common practice, no source)

-- depends_on: the place of a row set aside; this finding goes away when that row is put right.
create table record.problems (
    severity text not null,
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    expected text,
    message text not null,
    action text,
    depends_on text
);

insert into record.problems by name
select severity, code, month, file, sheet, row, field, value, expected, message, action, depends_on
from given_problems;

-- A move that gains more than twice its reading error (V7), in rows set aside too.
insert into record.problems by name
with moved as (
    select
        given.file,
        given.sheet,
        given.row,
        given.date,
        given.volume_in,
        given.volume_unit,
        convert6(given.volume_in, units.numerator, units.denominator)
            - convert6(given.volume_out, units.numerator, units.denominator) as gain_bbl,
        sqrt(
            power(coalesce(left_tank.tolerance_bbl, 0)::double, 2)
            + power(coalesce(filled_tank.tolerance_bbl, 0)::double, 2)
        )::decimal(18,6) as reading_error_bbl
    from given_moves as given
    inner join reference.units as units
        on units.unit = given.volume_unit
    left join record.first_vessels as left_tank
        on left_tank.site = given.site and left_tank.lot = given.from_lot
    left join record.first_vessels as filled_tank
        on filled_tank.site = given.site and filled_tank.lot = given.to_lot
)
select
    'warning' as severity,
    'readings-disagree' as code,
    month_of(date) as month,
    file,
    sheet,
    row,
    'volume_in' as field,
    volume_in::double::text as value,
    format('at most {:.3f} bbl above volume_out', 2 * reading_error_bbl::double) as expected,
    format('more arrived than left, by {:.3f} bbl, and twice the reading error is {:.3f} bbl',
        gain_bbl::double, 2 * reading_error_bbl::double) as message,
    'read both tanks again, or mend the figures' as action
from moved
where gain_bbl > 2 * reading_error_bbl;

insert into record.problems by name
select
    'warning' as severity,
    'not-yeast' as code,
    month_of(uses.date) as month,
    uses.file,
    uses.sheet,
    uses.row,
    'generation' as field,
    uses.generation::text as value,
    'a generation beside yeast only' as expected,
    uses.material || ' is no yeast, so the generation is not used' as message,
    'leave it blank, or mend the material or its kind' as action
from record.uses
join record.materials using (material)
where uses.generation is not null and materials.kind <> 'yeast';

-- A year that was mistyped: a month that lies more than three after the last before it that anything is of.
insert into record.problems by name
with
months as (
    select first_month as month, first_day from reference.settings
    union
    select month, first_day from record.file_months
),
apart as (
    select month, lag(month) over (order by first_day) as month_before
    from months
    qualify first_day > lag(first_day) over (order by first_day) + interval 3 month
),
places as (
    select *, if(field = 'month', month, date::text) as said
    from record.file_months
)
select
    'warning' as severity,
    'months-apart' as code,
    month,
    places.file,
    places.sheet,
    places.row,
    places.field,
    places.said as value,
    'at most three months after ' || apart.month_before as expected,
    places.said || ' is more than three months after ' || apart.month_before || ', the last month before it that a record is of'
        || if(places.rows > 1, '; here ' || places.rows || ' rows are of ' || month, '') as message,
    'check the year' as action
from apart
join places using (month);

-- A return is held against the shipment it names (X4), where no row of that was set aside.
insert into record.problems by name
with
shipped as (
    select lower(document) as document, accepted, account, beer, package, units, date
    from given_shipments
    where lower(document) in (select lower(original_document) from record.returns)
),
lines as (
    select document, beer, package, sum(units) as units, min(date) as date, list(distinct account order by account) as accounts
    from shipped
    group by document, beer, package
),
returned as (
    select
        returns.*, lines.units as shipped_units, lines.date as shipped_on, lines.accounts,
        sum(returns.units) over (
            partition by lower(returns.original_document), returns.beer, returns.package
            order by returns.date, returns.document, returns.line
        ) as so_far
    from record.returns
    join (select document from shipped group by document having bool_and(accepted)) as whole
        on whole.document = lower(returns.original_document)
    left join lines on lines.document = whole.document and lines.beer = returns.beer and lines.package = returns.package
),
unlike as (
    select *, 'package' as field, package as value, 'a beer and package of ' || original_document as expected,
        'no ' || package || ' of ' || beer || ' went out with it, so they are taken as taxed' as detail
    from returned
    where shipped_units is null
    union all by name
    select *, 'units' as field, units::text as value,
        'at most ' || greatest(shipped_units - so_far + units, 0) || ' packages' as expected,
        so_far || ' ' || package || ' of ' || beer || ' have come back of the ' || shipped_units || ' that went out' as detail
    from returned
    where so_far > shipped_units
    union all by name
    select *, 'account' as field, account as value, array_to_string(accounts, ', ') as expected,
        'it went to ' || array_to_string(accounts, ', ') as detail
    from returned
    where not list_contains(accounts, account)
    union all by name
    select *, 'date' as field, date::text as value, 'a day from ' || shipped_on || ' on' as expected,
        'it went out on ' || shipped_on as detail
    from returned
    where date < shipped_on
)
select
    'warning' as severity,
    'return-unlike-shipment' as code,
    month_of(date) as month,
    file,
    sheet,
    row,
    field,
    value,
    expected,
    'return ' || document || ' does not fit shipment ' || original_document || ': ' || detail as message,
    'mend the row, or original_document' as action
from unlike;

insert into record.problems by name
with sent as (
    select
        shipments.*, accounts.kind, accounts.ownership, sites.area as site_area,
        -- Where it is delivered: an account without an area takes delivery at the site, unless it is abroad.
        coalesce(accounts.area, if(accounts.kind = 'abroad', null, sites.area)) as area
    from record.shipments
    join record.accounts using (account)
    join reference.sites using (site)
),
unlike as (
    select *, 'another country than ' || site_area as wanted, 'takes delivery in ' || area as detail,
        'mend purpose, or the area of the account' as action
    from sent
    where purpose = 'export' and split_part(area, '-', 1) = split_part(site_area, '-', 1)
    union all by name
    select *, 'a house of the own legal entity or group' as wanted, 'is a ' || kind || ' outside the legal entity' as detail,
        'mend purpose, or kind and ownership of the account' as action
    from sent
    where purpose = 'own_location' and ownership = 'outside'
)
select
    'warning' as severity,
    'purpose-unlike-account' as code,
    month_of(date) as month,
    file,
    sheet,
    row,
    'purpose' as field,
    purpose as value,
    wanted as expected,
    purpose || ' is given as the purpose, but ' || account || ' ' || detail as message,
    action
from unlike;

insert into record.problems by name
select
    'warning' as severity,
    'deposit-without-package' as code,
    'deposits' as field,
    deposits.package as value,
    'a package of the records, or a ready-made keg' as expected,
    'brewery.toml gives a deposit for ' || deposits.package || ', and no package bears that name: it falls on no keg' as message,
    'mend the name under [kegs] deposits' as action
from reference.keg_deposits as deposits
anti join record.packages as packages on lower(packages.package) = deposits.package
anti join reference.ready_made_kegs as kegs on lower(kegs.package) = deposits.package;
