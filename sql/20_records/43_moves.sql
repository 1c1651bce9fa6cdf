-- table: record.moves
-- grain: one move
-- key: move
-- units: volumes in bbl, unit_price per bbl
-- reads: given_moves, reference.units
-- rule: U1
-- source: kinds.toml

create table record.moves (
    file text not null,
    sheet text,
    row bigint not null,
    move text not null,
    date date not null,
    site text not null,
    from_lot text not null,
    to_lot text,
    to_vessel text,
    beer text,
    volume_out_bbl decimal(18,6) not null,
    volume_in_bbl decimal(18,6),
    reason text not null,
    account text,
    unit_price decimal(18,6),
    lot_emptied boolean not null
);

insert into record.moves by name
select
    given.file,
    given.sheet,
    given.row,
    given.move,
    given.date,
    given.site,
    given.from_lot,
    given.to_lot,
    given.to_vessel,
    given.beer,
    convert6(given.volume_out, units.numerator, units.denominator) as volume_out_bbl,
    convert6(given.volume_in, units.numerator, units.denominator) as volume_in_bbl,
    given.reason,
    given.account,
    given.unit_price,
    given.lot_emptied
from given_moves as given
left join reference.units as units on units.unit = given.volume_unit
where given.accepted;
