-- table: excise.days
-- grain: one day's beer of one form from one site under one rate class
-- key: area, tax, class, degree, relief, site, date, form
-- units: measure as excise.taxed; taxable after the rounding of the day where the area rounds days
-- reads: excise.taxed, reference.areas, reference.rates
-- rule: X2, X4
-- source: 27 CFR 25.156(c), 25.157; 26 U.S.C. 5056(a)

create table excise.days (
    area text not null,
    tax text not null,
    class bigint not null,
    degree decimal(18,6),
    relief text,
    site text not null,
    date date not null,
    month text not null,
    form text not null,
    removed decimal(28,10) not null,
    returned decimal(28,10) not null,
    taxable decimal(28,10) not null,
    adjustment decimal(28,10) not null      -- what came back beyond what left that day, negative; shown apart
);

insert into excise.days by name
with sums as (
    select
        area, tax, class, degree, relief, site, date, month, form,
        sum(greatest(measure, 0))::decimal(28,10) as removed,
        -sum(least(measure, 0))::decimal(28,10) as returned
    from excise.taxed
    group by all
),
nets as (
    select
        sums.*,
        areas.rounds_each_day,
        case
            when areas.rounds_each_day then (
                rounded(
                    divide10(sums.removed - sums.returned, rates.litres_per_unit),
                    areas.quantity_places,
                    areas.quantity_mode
                ) * rates.litres_per_unit
            )::decimal(28,10)
            else (sums.removed - sums.returned)::decimal(28,10)
        end as net
    from sums
    join reference.areas as areas on areas.area = sums.area
    join reference.rates as rates on rates.area = sums.area and rates.class = sums.class and rates.band_no = 1
)
select
    * exclude (net, rounds_each_day),
    case when rounds_each_day then greatest(net, 0) else net end as taxable,
    case when rounds_each_day then least(net, 0) else 0 end as adjustment
from nets;
