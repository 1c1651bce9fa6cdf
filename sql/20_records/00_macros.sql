-- table: macros
-- grain: the change from one unit to another
-- key: none
-- units: as each says
-- reads: nothing
-- rule: U1, U3
-- source: factors of reference.units

-- A quantity (decimal(18,6), not negative) times numerator / denominator, exact in whole numbers and rounded once, half up.
create or replace macro convert6(quantity, numerator, denominator) as
    case
        when numerator = denominator then quantity::decimal(18,6)
        else (
            (
                ((quantity::decimal(38,6) * 1000000)::hugeint * numerator::hugeint * 2 + denominator::hugeint)
                // (denominator::hugeint * 2)
            )::decimal(30,0) * 0.000001::decimal(7,6)
        )::decimal(18,6)
    end;

-- The same at twelve decimals, for what one container holds: a can is 0.003 bbl, and many thousands are filled.
create or replace macro convert12(quantity, numerator, denominator) as
    (quantity::double * numerator::double / denominator::double)::decimal(28,12);

-- Degrees Plato of a gravity in the unit it was read in. The polynomial's specific gravity is 20/20 (NBS Circular 440). A
-- beer fermented dry is lighter than water, and its apparent extract negative.
create or replace macro as_plato(gravity, unit) as
    case
        when gravity is null then null
        when unit = 'sg' and gravity < 0.999 then rounded6(plato_cubic(gravity::double))
        when unit = 'sg' then rounded6(plato_of_sg(gravity))
        else gravity::decimal(18,6)
    end;

-- Degrees Celsius of a temperature in the unit it was read in.
create or replace macro as_celsius(temperature, unit) as
    case when unit = 'F' then divide6((temperature - 32) * 5, 9) else temperature::decimal(18,6) end;

-- Where a row stands, as a finding shows it.
create or replace macro place_of(file, sheet, row) as file || coalesce(' sheet ' || sheet, '') || ' row ' || row;
