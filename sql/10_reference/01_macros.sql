-- table: macros
-- grain: the few computations that every table shares
-- key: none
-- units: as each says
-- reads: nothing
-- rule: U1, U2, U3, U4
-- source: water density: Kell 1975, J. Chem. Eng. Data 20(1), 97-105; gravity: NBS Circular 440 cubic; Balling

-- Division happens here and nowhere else. DuckDB divides decimals as doubles, and a straight cast of that to the last
-- digit rounds some exact halves the wrong way, so the quotient is first brought to ten decimals.
create or replace macro divide10(a, b) as (a::double / b::double)::decimal(28,10);

-- That quotient at six decimals. In 64 bits where it fits them: going from ten decimals to six in 128 takes twenty times as long.
create or replace macro rounded6(quotient) as
    case
        when abs(quotient) < 90000000 then quotient::decimal(18,10)::decimal(18,6)
        else quotient::decimal(28,10)::decimal(18,6)
    end;

-- And at two, for amounts that are whole cents.
create or replace macro rounded2(quotient) as
    case
        when abs(quotient) < 90000000 then round(quotient::decimal(18,10), 2)
        else round(quotient::decimal(28,10), 2)
    end::decimal(18,6);

create or replace macro divide6(a, b) as rounded6(a::double / b::double);

-- The part of an amount that falls on weight of total; the caller gives the remainder to the largest part.
create or replace macro part6(amount, weight, total) as
    rounded6(amount::double * weight::double / total::double);

-- Units of a package whose volume is numerator / denominator barrels, exactly; only the product is rounded (C).
create or replace macro barrels(units, numerator, denominator) as
    rounded6(units::double * numerator::double / denominator::double);

-- By how many % a container holds more than its size, and whether that is too far off to be the filler's doing.
create or replace macro over_pct(average_bbl, containers, numerator, denominator) as
    divide6(100 * (average_bbl::double * containers * denominator::double - numerator::double), numerator);

create or replace macro fill_unlike(average_bbl, containers, numerator, denominator) as
    abs(over_pct(average_bbl, containers, numerator, denominator)) > 15;

-- A quantity at a price.
create or replace macro at_price(qty, price) as rounded6(qty::double * price::double);

-- Whether a pool of cost applies to what is worked on; applies_to null: to everything.
create or replace macro applies(applies_to, applies_value, beer, package, form, vessel_kind) as
    applies_to is null or lower(applies_value) = lower(case applies_to
        when 'beer' then beer
        when 'package' then package
        when 'form' then form
        when 'vessel_kind' then vessel_kind
    end);

-- The number of an account kept by tax area: its own where brewery.toml gives one, else the role's with the area behind it.
create or replace macro account_of(role_account, own_account, area) as
    case when area is null then role_account else coalesce(own_account, role_account || '-' || area) end;

create or replace macro month_of(day) as strftime(day, '%Y-%m');

-- kg/m3 of water at t degrees Celsius (Kell 1975), 0 to 100 degrees at one atmosphere.
create or replace macro water_density(t) as
    (999.83952::double + t * (16.945176::double + t * (-7.9870401e-3 + t * (-46.170461e-6
        + t * (105.56302e-9 - t * 280.54253e-12))))) / (1 + 16.879850e-3 * t);

-- What a volume read at t degrees Celsius is at 20 degrees (U2).
create or replace macro at_20c(volume, t) as
    rounded6(volume::double * water_density(t::double) / water_density(20::double));

-- Specific gravity 20/20 of a wort of p degrees Plato. The inverse of the NBS Circular 440 cubic by three Newton steps
-- from the common quick inverse: under 1e-9 from the root over 0 to 40 degrees.
create or replace macro plato_cubic(s) as
    182.46007 * s * s * s - 775.68212 * s * s + 1262.7794 * s - 669.56218;

create or replace macro plato_slope(s) as 547.38021 * s * s - 1551.36424 * s + 1262.7794;

create or replace macro newton_sg(s, p) as s - (plato_cubic(s) - p) / plato_slope(s);

create or replace macro sg_of_plato(p) as
    newton_sg(newton_sg(1 + p::double / (258.6 - 227.1 * p::double / 258.2), p::double), p::double);

create or replace macro plato_of_sg(s) as greatest(plato_cubic(s::double), 0);

-- Pounds of extract in a volume of wort at 20 degrees: volume * SG * density of water * Plato / 100, true mass (U3).
-- A barrel is 117.347765304 L and a pound 0.45359237 kg, both exact.
create or replace macro extract_lb(volume_bbl, plato) as
    volume_bbl::double * 0.117347765304 * sg_of_plato(plato) * water_density(20::double) / 0.45359237
        * plato::double / 100;

-- Real extract and alcohol from original and apparent extract, all in degrees Plato or per cent by weight (U4, Balling).
create or replace macro real_extract(original, apparent) as 0.1808 * original::double + 0.8192 * apparent::double;

create or replace macro alcohol_by_weight(original, apparent) as
    (original::double - real_extract(original, apparent)) / (2.0665 - 0.010665 * original::double);

-- By volume: SG of the beer by apparent extract; 0.791 is the SG of ethanol 20/20 in use in the trade.
create or replace macro alcohol_by_volume(original, apparent) as
    alcohol_by_weight(original, apparent) * sg_of_plato(apparent) / 0.791;

-- The cost of one draw among the draws of a lot's day (C8): by volume, the largest draw taking the rounding remainder.
-- other_volumes: the day's other draws where this is the largest, else null.
create or replace macro part_of_day(taken, volume, day_volume, other_volumes) as
    (case
        when day_volume = 0 then case when other_volumes is null then 0 else taken end
        when other_volumes is null then part6(taken, volume, day_volume)
        else taken - coalesce(list_sum(list_transform(other_volumes, lambda other : part6(taken, other, day_volume))), 0)
    end)::decimal(18,6);

-- What a transfer hands on (C9): all of its cost, or good / expected of it where it lost abnormally (good not null).
create or replace macro passed_on(cost, good_bbl, expected_bbl) as
    (case when good_bbl is null then cost else part6(cost, good_bbl, expected_bbl) end)::decimal(18,6);

-- A figure as a message shows it: no more than three decimals and no idle zeros.
create or replace macro shown(figure) as
    regexp_replace(regexp_replace(figure::decimal(18,3)::text, '(\.\d*?)0+$', '\1'), '\.$', '');

-- A volume as it was typed, with its barrels behind it where that was in another unit.
create or replace macro as_typed(quantity, unit, bbl) as
    case when unit = 'bbl' then shown(bbl) || ' bbl' else shown(quantity) || ' ' || unit || ' (' || shown(bbl) || ' bbl)' end;

-- What a taking has of one source (V8a): the takings lie end to end along all that came in, and the source with them. A
-- part never depends on later takings, and at the end of the line the source is used up.
create or replace macro taken_of(source_volume, volume, up_to, whole) as
    (case
        when whole > 0 then part6(source_volume, up_to, whole) - part6(source_volume, up_to - volume, whole)
        else 0
    end)::decimal(18,6);

-- What of a source's part in a taking goes on, and is not lost on the way.
create or replace macro good_of(good, part, volume) as
    (case when volume <> 0 then part6(good, part, volume) else 0 end)::decimal(18,6);
