-- table: record.packages
-- grain: one package, of a record or ready-made
-- key: package
-- units: container_volume in volume_unit; bbl_numerator / bbl_denominator = barrels of one package, exactly
-- reads: given_packages, record.package_names, reference.units, reference.ready_made_kegs
-- rule: U1, X1
-- source: kinds.toml

-- Ready-made packages stand here where a record names one and no row of packages bears the same name.
create table record.packages (
    file text,
    sheet text,
    row bigint,
    package text primary key,
    form text not null,
    containers bigint not null,
    container_volume decimal(18,6),
    volume_unit text not null,
    bbl_numerator decimal(28,6) not null,
    bbl_denominator decimal(18,0) not null,
    returnable boolean not null,
    excise_bbl decimal(18,6),
    ready_made boolean not null
);

insert into record.packages by name
select
    given.file,
    given.sheet,
    given.row,
    given.package,
    given.form,
    given.containers,
    given.container_volume,
    given.volume_unit,
    ((given.containers::decimal(5,0) * given.container_volume)::decimal(24,6) * units.numerator::decimal(12,0))
        ::decimal(28,6) as bbl_numerator,
    units.denominator as bbl_denominator,
    coalesce(given.returnable, given.form = 'keg') as returnable,
    given.excise_bbl,
    false as ready_made
from given_packages as given
inner join reference.units as units
    on units.unit = given.volume_unit
where given.accepted;

insert into record.packages by name
with named as (
    select package
    from record.package_names
    where package not in (select package from given_packages where package is not null)
),
cases as (
    select
        package,
        regexp_extract(package, '^case_(\d+)x', 1) as containers,
        regexp_extract(package, 'x(\d+(?:\.\d+)?)(?:mL)?$', 1) as container_volume,
        case when package like '%mL' then 'mL' else 'floz' end as volume_unit
    from named
    where package like 'case@_%' escape '@'
),
ready_made as (
    select named.package, 'keg' as form, 1 as containers, kegs.container_volume, kegs.volume_unit, kegs.parts
    from named
    inner join reference.ready_made_kegs as kegs
        on kegs.package = named.package
    union all
    select package, 'bottled', containers::bigint, container_volume::decimal(18,6), volume_unit, null
    from cases
)
select
    ready_made.package,
    ready_made.form,
    ready_made.containers,
    ready_made.container_volume,
    ready_made.volume_unit,
    case
        when ready_made.parts is not null then 1
        else ((ready_made.containers::decimal(5,0) * ready_made.container_volume::decimal(18,6))::decimal(24,6)
            * units.numerator::decimal(12,0))::decimal(28,6)
    end as bbl_numerator,
    coalesce(ready_made.parts, units.denominator) as bbl_denominator,
    ready_made.form = 'keg' as returnable,
    true as ready_made
from ready_made
inner join reference.units as units
    on units.unit = ready_made.volume_unit;
