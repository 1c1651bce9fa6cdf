-- table: volume.filling_places
-- grain: one lot on one day on which it is filled: the last row that fills it
-- key: site, lot, date
-- units: none
-- reads: volume.inflows, record.brews, record.moves, record.opening_lots
-- rule: none
-- source: where a finding about a tank is to be put right

create table volume.filling_places (
    site text not null,
    lot text not null,
    date date not null,
    field text not null,
    file text,
    sheet text,
    row bigint
);

insert into volume.filling_places by name
select
    inflows.site, inflows.lot, inflows.date,
    case inflows.source when 'move' then 'to_vessel' else 'vessel' end as field,
    coalesce(brews.file, moves.file, opening_lots.file) as file,
    coalesce(brews.sheet, moves.sheet, opening_lots.sheet) as sheet,
    coalesce(brews.row, moves.row, opening_lots.row) as row
from volume.inflows
left join record.brews on inflows.source = 'brew' and brews.brew = inflows.name
left join record.moves on inflows.source = 'move' and moves.move = inflows.name
left join record.opening_lots on inflows.source = 'opening' and opening_lots.site = inflows.site
    and opening_lots.lot = inflows.lot
qualify row_number() over (
    partition by inflows.site, inflows.lot, inflows.date order by inflows.source_order desc, inflows.name desc
) = 1;
