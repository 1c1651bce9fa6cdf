-- table: macros
-- grain: rounding as an authority prescribes it
-- key: none
-- units: those of what is rounded
-- reads: nothing
-- rule: X2, X6
-- source: 27 CFR 25.156(c), 25.163 (half up); other authorities as their area files say

-- DuckDB rounds an exact half of a decimal away from zero: half up, for what is owed and for what is given back alike.
create or replace macro to_places(x, places) as
    case places
        when 0 then round(x, 0)::decimal(28,6)
        when 1 then round(x, 1)::decimal(28,6)
        when 2 then round(x, 2)::decimal(28,6)
        when 3 then round(x, 3)::decimal(28,6)
        when 4 then round(x, 4)::decimal(28,6)
        when 5 then round(x, 5)::decimal(28,6)
        else x::decimal(28,6)
    end;

create or replace macro last_place(places) as
    case places
        when 0 then 1::decimal(28,6)
        when 1 then 0.1::decimal(28,6)
        when 2 then 0.01::decimal(28,6)
        when 3 then 0.001::decimal(28,6)
        when 4 then 0.0001::decimal(28,6)
        when 5 then 0.00001::decimal(28,6)
        else 0.000001::decimal(28,6)
    end;

-- `down` is towards zero, `up` away from it.
create or replace macro rounded(x, places, mode) as
    (to_places(x, places) + case
        when mode = 'down' and abs(to_places(x, places)) > abs(x) then -sign(x) * last_place(places)
        when mode = 'up' and abs(to_places(x, places)) < abs(x) then sign(x) * last_place(places)
        else 0::decimal(28,6)
    end)::decimal(28,6);

-- Whether a value lies within limits of which either may be absent, and either may belong to the range or not.
create or replace macro within(value, low, low_in, high, high_in) as
    (low is null or value > low or (low_in and value = low))
    and (high is null or value < high or (high_in and value = high));

create or replace macro one_of(names, name) as names is null or list_contains(names, name);

create or replace macro country_of(area) as split_part(area, '-', 1);

-- The first day of the year over which an area counts, that a day is in.
create or replace macro counting_year(day, first_month) as
    make_date(year(day - to_months((first_month - 1)::int)), first_month, 1);

-- The edge of a band in what it is measured in: the filer's own quota stands in the place of the whole one.
create or replace macro band_edge(whole, by_quota, quota, measure_per_unit) as
    ((case when by_quota then coalesce(quota, whole) else whole end)::decimal(28,9) * measure_per_unit)::decimal(28,10);

-- What a remission takes off a duty with which the year reaches so much: what there is room for, less what there was before.
create or replace macro remitted_of(duty, reached, room) as least(room, reached) - least(room, reached - duty);
