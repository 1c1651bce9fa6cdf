-- table: record.beer_in
-- grain: one receipt of beer in bond
-- key: none
-- units: volume and, of bulk, quantity_shipped in bbl; packages
-- reads: given_beer_in, reference.units
-- rule: C8, C11a
-- source: kinds.toml

-- quantity_shipped is what the sender's document says: barrels for bulk, packages otherwise.
create table record.beer_in (
    file text not null,
    sheet text,
    row bigint not null,
    date date not null,
    site text not null,
    account text not null,
    beer text not null,
    cost decimal(18,6) not null,
    lot text,
    volume_bbl decimal(18,6),
    package text,
    units bigint,
    document text,
    from_document text,
    quantity_shipped decimal(18,6),
    brewed_by text not null
);

insert into record.beer_in by name
select
    given.file,
    given.sheet,
    given.row,
    given.date,
    given.site,
    given.account,
    given.beer,
    given.cost,
    given.lot,
    case when given.lot is not null then convert6(given.volume, units.numerator, units.denominator) end as volume_bbl,
    given.package,
    given.units,
    given.document,
    given.from_document,
    case
        when given.lot is not null then convert6(given.quantity_shipped, units.numerator, units.denominator)
        else given.quantity_shipped
    end as quantity_shipped,
    given.brewed_by
from given_beer_in as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
