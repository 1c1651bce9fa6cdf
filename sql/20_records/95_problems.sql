-- table: record.problems
-- grain: one finding about the records
-- key: none
-- units: none
-- reads: given_problems, given_moves, record.first_vessels, record.uses, record.materials, record.packages,
--   reference.keg_deposits, reference.ready_made_kegs, reference.units
-- rule: V7
-- source: kinds.toml

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
        on left_tank.lot = given.from_lot
    left join record.first_vessels as filled_tank
        on filled_tank.lot = given.to_lot
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
