-- table: report.yeast_generations
-- grain: one yeast at one generation and beer: its lots emptied in the twelve months up to one month
-- key: month, site, material, generation, beer
-- units: %, days from filling to the first gravity within 0.2 degrees Plato of the lowest read
-- reads: report.months, result.lots, result.lot_materials, result.lot_readings, result.brew_strengths
-- rule: U4
-- source: 0.2 degrees Plato as a gravity that moves no more: common practice, no source. Yeast of several generations in one lot
--   counts at the oldest

create table report.yeast_generations (
    month text not null,
    site text not null,
    material text not null,
    generation bigint not null,
    beer text not null,
    lots_count bigint not null,
    attenuation_pct decimal(18,6),
    attenuation_low_pct decimal(18,6),
    attenuation_high_pct decimal(18,6),
    fermentation_days decimal(18,6),
    longest_days bigint
);

insert into report.yeast_generations by name
with
pitched as (
    select site, lot, material, max(generation) as generation
    from result.lot_materials
    where generation is not null
    group by site, lot, material
),
lowest as (
    select site, lot, min(plato) as plato, count(*) as readings
    from result.lot_readings
    where plato is not null
    group by site, lot
),
-- One gravity alone says nothing of when the fermentation ended.
fermented as (
    select readings.site, readings.lot, min(readings.age_days) as days
    from result.lot_readings as readings
    join lowest using (site, lot)
    where lowest.readings > 1 and readings.plato <= lowest.plato + 0.2
    group by readings.site, readings.lot
),
attenuated as (
    select site, lot, any_value(apparent_attenuation_pct) as pct
    from result.brew_strengths
    group by site, lot
)
select months.month, pitched.site, pitched.material, pitched.generation, lots.beer, count(*) as lots_count,
    avg(attenuated.pct) as attenuation_pct, min(attenuated.pct) as attenuation_low_pct,
    max(attenuated.pct) as attenuation_high_pct, avg(fermented.days) as fermentation_days, max(fermented.days) as longest_days
from report.months as months
join result.lots as lots on lots.emptied_on <= months.last_day
    and date_diff('month', lots.emptied_on, months.first_day) < 12
join pitched on pitched.site = lots.site and pitched.lot = lots.lot
left join attenuated on attenuated.site = lots.site and attenuated.lot = lots.lot
left join fermented on fermented.site = lots.site and fermented.lot = lots.lot
group by months.month, pitched.site, pitched.material, pitched.generation, lots.beer;
