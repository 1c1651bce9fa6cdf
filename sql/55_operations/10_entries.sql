-- table: excise.operation_entries
-- grain: one entry of the statement of operations, before it is summed
-- key: none
-- units: bbl, exact
-- reads: record.brews, record.uses, volume.moves, record.beer_in, record.beers, record.opening_lots, record.opening_goods,
--   excise.packages, volume.lots, volume.run_lines, volume.stage_losses, cost.goods_moves, excise.removals,
--   reference.settings, reference.sites, reference.areas
-- rule: X8
-- source: 27 CFR 25.292, 25.297; TTB F 5130.9, wording of 2014; lines 27 to 30 and 32 are from memory, unverified

create table excise.operation_entries (
    area text not null,
    site text not null,
    date date not null,
    form_line bigint not null,
    form_column text not null,
    bbl decimal(18,6) not null
);

insert into excise.operation_entries by name
with
-- Soft drinks and cereal beverages stay off the beer columns.
taxed_beers as (
    select beer from record.beers where tax_class = 'beer'
),
in_lots as (
    select lots.site, lots.lot, lots.beer
    from volume.lots as lots
    semi join taxed_beers on taxed_beers.beer = lots.beer
),
columns_of as (
    select package, case when form = 'keg' then 'racking keg' else 'bottling case' end as form_column
    from excise.packages
),
goods as (
    select moves.site, moves.date, moves.kind, moves.document, moves.line, moves.bbl, moves.short_bbl,
        columns_of.form_column
    from cost.goods_moves as moves
    join columns_of on columns_of.package = moves.package
    semi join taxed_beers on taxed_beers.beer = moves.beer
),
entries as (
    -- Cellar.
    select opening.site, settings.first_day as date, 1 as form_line, 'cellar' as form_column, opening.volume_bbl as bbl
    from record.opening_lots as opening
    cross join reference.settings as settings
    semi join in_lots on in_lots.site = opening.site and in_lots.lot = opening.lot
    union all by name
    select brews.site, brews.date, 2 as form_line, 'cellar' as form_column, brews.into_fermenter_bbl as bbl
    from record.brews as brews
    semi join in_lots on in_lots.site = brews.site and in_lots.lot = brews.lot
    union all by name
    select uses.site, uses.date, 3 as form_line, 'cellar' as form_column, uses.adds_volume_bbl as bbl
    from record.uses as uses
    semi join in_lots on in_lots.site = uses.site and in_lots.lot = uses.lot
    where uses.adds_volume_bbl is not null
    union all by name
    select beer_in.site, beer_in.date, 5 as form_line, 'cellar' as form_column, beer_in.volume_bbl as bbl
    from record.beer_in as beer_in
    semi join in_lots on in_lots.site = beer_in.site and in_lots.lot = beer_in.lot
    where beer_in.lot is not null
    union all by name
    select moves.site, moves.date,
        case moves.reason when 'serving_tank' then 15 when 'sample' then 27 else 28 end as form_line,
        'cellar' as form_column, moves.volume_out_bbl as bbl
    from volume.moves as moves
    semi join in_lots on in_lots.site = moves.site and in_lots.lot = moves.from_lot
    where moves.reason in ('serving_tank', 'sample', 'destroyed')
    union all by name
    -- From the cellar to racking and bottling, and into packages.
    select
        lines.site, lines.date,
        unnest(case when lines.form = 'keg' then [22, 6, 25, 9] else [23, 6, 26, 10] end) as form_line,
        unnest(case when lines.form = 'keg'
            then ['cellar', 'racking bulk', 'racking bulk', 'racking keg']
            else ['cellar', 'bottling bulk', 'bottling bulk', 'bottling case'] end) as form_column,
        unnest([lines.drawn_bbl, lines.drawn_bbl, lines.good_bbl, lines.good_bbl]) as bbl
    from volume.run_lines as lines
    semi join in_lots on in_lots.site = lines.site and in_lots.lot = lines.lot
    union all by name
    -- Process losses of tanks and transfers, on the day the lot was emptied or moved.
    select losses.site, coalesce(moves.date, lots.emptied_on, last_day((losses.month || '-01')::date)) as date,
        30 as form_line, 'cellar' as form_column, losses.loss_bbl as bbl
    from volume.stage_losses as losses
    left join volume.moves as moves on moves.move = losses.move
    left join volume.lots as lots on lots.site = losses.site and lots.lot = losses.lot
    where losses.stage in ('fermenter', 'bright_tank', 'transfer')
        and losses.loss_bbl is not null
        and exists (
            select 1 from in_lots
            where in_lots.site = losses.site and in_lots.lot = coalesce(losses.lot, moves.from_lot)
        )
    union all by name
    -- Packages on hand.
    select opening.site, settings.first_day as date, 1 as form_line, columns_of.form_column,
        barrels(opening.units, packages.bbl_numerator, packages.bbl_denominator) as bbl
    from record.opening_goods as opening
    cross join reference.settings as settings
    join excise.packages as packages on packages.package = opening.package
    join columns_of on columns_of.package = opening.package
    semi join taxed_beers on taxed_beers.beer = opening.beer
    union all by name
    select site, date,
        case
            when kind = 'received' then 5
            when kind = 'restocked' then 7
            when kind = 'count' and bbl > 0 then 11
            when kind = 'count' then 31
            when bbl > 0 then 12
            else 32
        end as form_line,
        form_column, abs(bbl) as bbl
    from goods
    where kind in ('received', 'restocked', 'count', 'repacked in', 'repacked out')
    union all by name
    -- What left, by purpose: what was on hand; beer shipped that the books did not hold is found at the count.
    select goods.site, goods.date,
        case removals.purpose
            when 'tavern' then 15 when 'export' then 16 when 'vessel_supply' then 17 when 'research' then 18
            when 'in_bond' then 19 when 'unfit' then 20 when 'premises' then 21 when 'laboratory' then 27
            when 'destroyed' then 28 when 'spirits_plant' then 29 when 'casualty' then 30 else 14
        end as form_line,
        goods.form_column, -goods.bbl as bbl
    from goods
    join excise.removals as removals
        on removals.kind = 'shipment' and removals.document = goods.document and removals.line = goods.line
    where goods.kind = 'shipped'
    union all by name
    -- Returned and destroyed here: in on line 7, out on line 28.
    select removals.site, removals.date, unnest([7, 28]) as form_line, columns_of.form_column, -removals.bbl as bbl
    from excise.removals as removals
    join columns_of on columns_of.package = removals.package
    join record.returns as returns on returns.document = removals.document and returns.line = removals.line
    where removals.kind = 'return' and returns.outcome = 'destroyed' and removals.tax_class = 'beer'
)
select country_of(sites.area) as area, entries.site, entries.date, entries.form_line, entries.form_column,
    entries.bbl::decimal(18,6) as bbl
from entries
join reference.sites as sites on sites.site = entries.site
where entries.bbl <> 0
    and country_of(sites.area) = 'US';
