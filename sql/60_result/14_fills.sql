-- table: result.fills
-- grain: one run line whose containers were weighed, but for those over 15 % off their size, which are a finding
-- key: run, line
-- units: packages, containers of one package, bbl, % of the container's size, money; an underfill is negative. fill: of one
--   container; held: all that was filled. spill: drawn less held, rejected packages in it; null where drawn was not read but
--   counted (V4), for then what is overfilled stands in the loss of the tank. overfill_cost: at what a barrel drawn cost
-- reads: volume.run_lines, record.packaging, record.packages, cost.run_costs
-- rule: C15, V4
-- source: calculation rule C15; loss = overfill + spill, exactly; nothing is booked with it

create table result.fills (
    month text not null,
    date date not null,
    site text not null,
    run text not null,
    line bigint not null,
    beer text,
    package text not null,
    volume_unit text not null,
    filled bigint not null,
    rejected bigint not null,
    containers bigint not null,
    nominal_fill_bbl decimal(28,10) not null,
    average_fill_bbl decimal(28,10) not null,
    over_pct decimal(18,6) not null,
    nominal_bbl decimal(18,6) not null,
    held_bbl decimal(18,6) not null,
    overfill_bbl decimal(18,6) not null,
    overfill_cost decimal(18,6) not null,
    loss_bbl decimal(18,6) not null,
    spill_bbl decimal(18,6),
    reading_error_bbl decimal(18,6)
);

insert into result.fills by name
with weighed as (
    select
        lines.*, packages.volume_unit, packages.containers, packaging.average_fill_bbl as fill_bbl,
        barrels(lines.filled * packages.containers, packaging.average_fill_bbl, 1) as held_bbl
    from volume.run_lines as lines
    join record.packaging as packaging using (run, line)
    join record.packages as packages on packages.package = lines.package
    where not fill_unlike(packaging.average_fill_bbl, packages.containers, packages.bbl_numerator, packages.bbl_denominator)
)
select
    weighed.month, weighed.date, weighed.site, weighed.run, weighed.line, weighed.beer, weighed.package,
    weighed.volume_unit, weighed.filled, weighed.rejected, weighed.containers,
    divide10(weighed.bbl_numerator, weighed.bbl_denominator * weighed.containers) as nominal_fill_bbl,
    weighed.fill_bbl as average_fill_bbl,
    over_pct(weighed.fill_bbl, weighed.containers, weighed.bbl_numerator, weighed.bbl_denominator) as over_pct,
    weighed.good_bbl as nominal_bbl,
    weighed.held_bbl,
    weighed.held_bbl - weighed.good_bbl as overfill_bbl,
    case
        when weighed.drawn_bbl = 0 then 0
        else part6(costs.beer_cost, weighed.held_bbl - weighed.good_bbl, weighed.drawn_bbl)
    end as overfill_cost,
    weighed.drawn_bbl - weighed.good_bbl as loss_bbl,
    case when weighed.measured then weighed.drawn_bbl - weighed.held_bbl end as spill_bbl,
    case when weighed.measured then weighed.reading_error_bbl end as reading_error_bbl
from weighed
join cost.run_costs as costs using (run, line);
