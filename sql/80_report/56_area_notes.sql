-- table: report.area_notes
-- grain: one area whose duty stands in the books
-- key: area
-- units: none
-- reads: result.duty, reference.areas, reference.rates, reference.remissions
-- rule: X
-- source: the area files, each with its own sources

create table report.area_notes (
    area text primary key,
    name text not null,
    authority text not null,
    edition text not null,
    notes text,
    own boolean not null,
    incomplete text,
    checked date,
    unverified_count bigint not null
);

insert into report.area_notes by name
-- Only rates that bear on a duty in the books are spoken of; the day is that of the one compared longest ago.
with used as (
    select distinct area, source
    from result.duty
    where source is not null
),
rates as (
    select area, source, checked, unverified from reference.rates
    union all by name
    select area, source, checked, unverified from reference.remissions
),
compared as (
    select
        rates.area,
        min(rates.checked) as checked,
        count(*) filter (where rates.unverified) as unverified_count
    from rates
    join used on used.area = rates.area and starts_with(used.source, rates.source)
    group by rates.area
)
select
    areas.area,
    areas.name,
    areas.authority,
    areas.edition,
    areas.notes,
    areas.own,
    areas.incomplete,
    compared.checked,
    coalesce(compared.unverified_count, 0) as unverified_count
from reference.areas as areas
left join compared on compared.area = areas.area
where areas.area in (select duty.area from result.duty as duty);
