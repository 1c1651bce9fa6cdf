-- table: volume.run_lines
-- grain: one line of a packaging run: one package filled from one lot
-- key: run, line
-- units: packages; bbl. The volume of a package is bbl_numerator / bbl_denominator barrels, exactly
-- reads: record.packaging, record.packages, record.beers, volume.lots, volume.allowances, volume.left_out
-- rule: V4, V6, V7
-- source: records dictionary; where nothing was read, what was drawn is counted from the packages

create table volume.run_lines (
    run text not null,
    line bigint not null,
    date date not null,
    month text not null,
    site text not null,
    lot text not null,
    beer text,
    style text,
    package text not null,
    form text not null,
    bbl_numerator decimal(28,6) not null,
    bbl_denominator decimal(18,0) not null,
    filled bigint not null,
    rejected bigint not null,
    measured boolean not null,
    drawn_bbl decimal(18,6) not null,
    good_bbl decimal(18,6) not null,
    allowed_pct decimal(18,6) not null,
    reading_error_bbl decimal(18,6) not null
);

insert into volume.run_lines by name
with
lines as (
    select packaging.* exclude (beer), coalesce(packaging.beer, lots.beer) as beer, lots.tolerance_bbl
    from record.packaging
    join volume.lots using (site, lot)
    anti join (select * from volume.left_out where kind = 'packaging') as left_out
        on left_out.file = packaging.file and left_out.sheet is not distinct from packaging.sheet
        and left_out.row = packaging.row
)
select
    lines.run,
    lines.line,
    lines.date,
    month_of(lines.date) as month,
    lines.site,
    lines.lot,
    lines.beer,
    beers.style,
    lines.package,
    packages.form,
    packages.bbl_numerator,
    packages.bbl_denominator,
    lines.filled,
    lines.rejected,
    lines.volume_drawn_bbl is not null as measured,
    coalesce(
        lines.volume_drawn_bbl,
        barrels(lines.filled + lines.rejected, packages.bbl_numerator, packages.bbl_denominator)
    ) as drawn_bbl,
    barrels(lines.filled, packages.bbl_numerator, packages.bbl_denominator) as good_bbl,
    allowances.allowed_pct,
    case when lines.volume_drawn_bbl is null then 0 else lines.tolerance_bbl end as reading_error_bbl
from lines
join record.packages using (package)
left join record.beers on beers.beer = lines.beer
join volume.allowances on allowances.beer is not distinct from beers.beer
    and allowances.stage = 'packaging' and allowances.month = month_of(lines.date);
