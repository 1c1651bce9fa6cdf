-- table: cost.run_costs
-- grain: one run line with the cost of its good packages
-- key: run, line
-- units: packages, bbl, money
-- reads: volume.run_lines, cost.run_line_costs
-- rule: C10
-- source: calculation rule C10

create table cost.run_costs (
    month text not null,
    date date not null,
    site text not null,
    run text not null,
    line bigint not null,
    lot text not null,
    beer text,
    style text,
    package text not null,
    filled bigint not null,
    good_bbl decimal(18,6) not null,
    ingredients decimal(18,6) not null,
    packaging decimal(18,6) not null,
    labour decimal(18,6) not null,
    overhead decimal(18,6) not null,
    total_cost decimal(18,6) not null,
    abnormal_cost decimal(18,6) not null,
    beer_cost decimal(18,6) not null
);

insert into cost.run_costs by name
with
by_element as (
    select run, line,
        sum(good_cost) filter (where element = 'ingredients') as ingredients,
        sum(good_cost) filter (where element = 'packaging') as packaging,
        sum(good_cost) filter (where element = 'labour') as labour,
        sum(good_cost) filter (where element = 'overhead') as overhead,
        sum(good_cost) as total_cost,
        sum(abnormal_cost) as abnormal_cost,
        sum(beer_cost) as beer_cost
    from cost.run_line_costs
    group by run, line
)
select
    lines.month, lines.date, lines.site, lines.run, lines.line, lines.lot, lines.beer, lines.style, lines.package,
    lines.filled, lines.good_bbl,
    coalesce(by_element.ingredients, 0) as ingredients,
    coalesce(by_element.packaging, 0) as packaging,
    coalesce(by_element.labour, 0) as labour,
    coalesce(by_element.overhead, 0) as overhead,
    coalesce(by_element.total_cost, 0) as total_cost,
    coalesce(by_element.abnormal_cost, 0) as abnormal_cost,
    coalesce(by_element.beer_cost, 0) as beer_cost
from volume.run_lines as lines
left join by_element using (run, line);
