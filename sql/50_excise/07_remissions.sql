-- table: reference.remissions
-- grain: one dated cap of one area's remission of duty
-- key: area, from_date
-- units: cap in the area's currency a year, the year that the area's counters count in
-- reads: given_area_remissions
-- rule: X6
-- source: each row's own source

create table reference.remissions (
    area text not null,
    name text not null,
    from_date date not null,
    to_date date,
    cap decimal(18,6) not null,
    source text not null,
    checked date,
    unverified boolean not null
);

insert into reference.remissions by name
select * from given_area_remissions;
