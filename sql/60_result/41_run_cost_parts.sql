-- table: result.run_cost_parts
-- grain: one component of the cost of a beer in a package, packaged in a month
-- key: month, site, beer, package, element, kind, behaviour
-- units: money. kind: of the material, or what else the cost is; behaviour: does it vary with the beer made
-- reads: cost.run_components, volume.run_lines
-- rule: M3, C10
-- source: cost.run_components: adds up to result.run_costs

create table result.run_cost_parts (
    month text not null,
    site text not null,
    beer text,
    package text not null,
    element text not null,
    kind text not null,
    behaviour text not null,
    amount decimal(18,6) not null
);

insert into result.run_cost_parts by name
select run_lines.month, run_lines.site, run_lines.beer, run_lines.package,
    split_part(parts.component, '/', 1) as element,
    split_part(parts.component, '/', 2) as kind,
    split_part(parts.component, '/', 3) as behaviour,
    sum(parts.amount) as amount
from cost.run_components as parts
join volume.run_lines using (run, line)
where parts.component not like 'barrels/%'
group by all;
