-- table: volume.brews
-- grain: one brew
-- key: brew
-- units: bbl; the end of the boil brought to 20 degrees Celsius
-- reads: record.brews, record.beers, volume.kettles, reference.reading_tolerance, volume.left_out
-- rule: U2, V1, V7
-- source: water density by Kell 1975 stands for wort: 12 degrees Plato differs by less than 0.07 % (Bubnik et al. 1995)

create table volume.brews (
    brew text primary key,
    date date not null,
    month text not null,
    site text not null,
    lot text not null,
    beer text not null,
    style text,
    vessel text,
    measured boolean not null,
    volume_in_bbl decimal(18,6) not null,
    volume_out_bbl decimal(18,6) not null,
    kettle_tolerance_bbl decimal(18,6) not null     -- of the site's only kettle, where its record has one; else the default
);

insert into volume.brews by name
with
cold as (
    select
        brew,
        case
            when kettle_temp_c is null then end_of_boil_bbl
            else at_20c(end_of_boil_bbl, kettle_temp_c)
        end as end_of_boil_bbl
    from record.brews
)
select
    brews.brew,
    brews.date,
    month_of(brews.date) as month,
    brews.site,
    brews.lot,
    brews.beer,
    beers.style,
    brews.vessel,
    cold.end_of_boil_bbl is not null as measured,
    coalesce(cold.end_of_boil_bbl, brews.into_fermenter_bbl) as volume_in_bbl,
    brews.into_fermenter_bbl as volume_out_bbl,
    coalesce(kettles.tolerance_bbl, usual.tolerance_bbl) as kettle_tolerance_bbl
from record.brews
join cold using (brew)
join reference.reading_tolerance as usual on usual.stage = 'kettle'
left join volume.kettles as kettles on kettles.site = brews.site
-- A beer whose own record was set aside still brews.
left join record.beers using (beer)
anti join (select * from volume.left_out where kind = 'brews') as left_out
    on left_out.file = brews.file and left_out.sheet is not distinct from brews.sheet and left_out.row = brews.row;
