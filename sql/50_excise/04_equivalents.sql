-- table: reference.equivalents
-- grain: one size of package in an authority's table
-- key: area, form, container_ml, containers
-- units: barrels, 5 decimals; containers in mL
-- reads: given_area_equivalents
-- rule: X1
-- source: 27 CFR 25.156(a), 25.158, and the tables of other authorities

create table reference.equivalents (
    area text not null,
    form text,
    container_ml decimal(18,4) not null,
    containers bigint not null,
    barrels decimal(18,5) not null,
    source text not null
);

insert into reference.equivalents by name
select * from given_area_equivalents;
