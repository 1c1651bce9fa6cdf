-- table: record.set_aside_stocks
-- grain: one thing that a row set aside would have filled, emptied, priced or paid
-- key: none
-- units: none
-- reads: given_receipts, given_opening_materials, given_packaging, given_beer_in, given_returns, given_repacks, given_opening_goods, given_brews, given_moves, given_opening_lots, given_uses, given_prices, given_expenses, record.lot_beers, record.set_aside_lots, record.first_vessels
-- rule: none
-- source: kinds.toml

-- What is short or unpriced later may follow from the row set aside, and is told with it.
create table record.set_aside_stocks (
    place text not null,
    month text,
    sort text not null,
    subject text not null
);

insert into record.set_aside_stocks by name
with
-- A flag that could not be read may have been a yes.
taken as (
    select accepted, file, sheet, row, date, site, from_lot as lot from given_moves
    where coalesce(lot_emptied, true) or reason = 'empty'
    union all
    select accepted, file, sheet, row, date, site, lot from given_packaging where coalesce(lot_emptied, true)
),
filled as (
    select accepted, file, sheet, row, date, 'material' as sort, concat_ws(' · ', site, material) as subject from given_receipts
    union all
    select accepted, file, sheet, row, null, 'material', concat_ws(' · ', site, material) from given_opening_materials
    union all
    select packaging.accepted, packaging.file, packaging.sheet, packaging.row, packaging.date, 'goods',
        concat_ws(' · ', packaging.site, coalesce(packaging.beer, lot_beers.beer, lost.beer), packaging.package)
    from given_packaging as packaging
    left join record.lot_beers on lot_beers.site = packaging.site and lot_beers.lot = packaging.lot
    left join record.set_aside_lots as lost on lost.lot = packaging.lot
    union all
    select accepted, file, sheet, row, date, 'goods', concat_ws(' · ', site, beer, package) from given_beer_in
    union all
    select accepted, file, sheet, row, date, 'goods', concat_ws(' · ', site, beer, package) from given_returns
    union all
    select accepted, file, sheet, row, date, 'goods', concat_ws(' · ', site, to_beer, to_package) from given_repacks
    union all
    select accepted, file, sheet, row, null, 'goods', concat_ws(' · ', site, beer, package) from given_opening_goods
    union all
    select accepted, file, sheet, row, date, 'lot', lot from given_brews
    union all
    select accepted, file, sheet, row, date, 'lot', to_lot from given_moves
    union all
    select accepted, file, sheet, row, date, 'lot', lot from given_beer_in
    union all
    select accepted, file, sheet, row, null, 'lot', lot from given_opening_lots
    union all
    select accepted, file, sheet, row, date, 'lot', lot from given_uses where adds_volume > 0
    union all
    select taken.accepted, taken.file, taken.sheet, taken.row, taken.date, 'tank', vessels.vessel
    from taken
    join record.first_vessels as vessels using (site, lot)
    union all
    select accepted, file, sheet, row, from_date, 'price', concat_ws(' · ', beer, package) from given_prices
    union all
    select accepted, file, sheet, row, (month || '-01')::date, 'pay', site from given_expenses
)
select place_of(file, sheet, row) as place, month_of(date) as month, sort, subject
from filled
where not accepted and subject is not null;
