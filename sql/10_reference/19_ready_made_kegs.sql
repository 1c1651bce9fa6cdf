-- table: reference.ready_made_kegs
-- grain: one size of keg that needs no record
-- key: package
-- units: container_volume in volume_unit; null where a keg is one of `parts` of a barrel that no decimal says
-- reads: nothing
-- rule: U1, X1
-- source: keg sizes of 27 CFR 25.156(a)

create table reference.ready_made_kegs (
    package text primary key,
    container_volume decimal(18,6),
    volume_unit text not null,
    parts bigint
);

insert into reference.ready_made_kegs values
    ('half_bbl', 15.5, 'gal', 2),
    ('third_bbl', null, 'bbl', 3),
    ('quarter_bbl', 7.75, 'gal', 4),
    ('sixth_bbl', null, 'bbl', 6),
    ('eighth_bbl', 3.875, 'gal', 8),
    ('keg_5gal', 5, 'gal', null),
    ('keg_30L', 30, 'L', null),
    ('keg_50L', 50, 'L', null),
    ('keg_20L', 20, 'L', null);
