-- table: excise.operation_entries
-- grain: one entry of the statement of operations and of the daily record, before it is summed
-- key: none
-- units: bbl, exact
-- reads: volume.inflows, volume.moves, volume.draws, record.beer_in, record.beers, record.opening_goods,
--   record.returns, record.counts, excise.packages, volume.lots, volume.run_lines, volume.stage_losses, cost.goods_moves,
--   excise.removals, excise.production_points, reference.settings
-- rule: X8, X9
-- source: 27 CFR 25.292, 25.294, 25.297; TTB F 5130.9, wording of 2014; lines 27 to 30 and 32 are from memory, unverified

create table excise.operation_entries (
    area text not null,
    site text not null,
    date date not null,
    tax_class text not null,    -- 'beer' or 'cereal_beverage': the latter stays off the statement, not off the daily record
    form_line bigint not null,
    form_column text not null,
    account text,               -- whom it went to or came from
    explanation text,           -- what was said of a shortage at a count
    bbl decimal(18,6) not null
);

insert into excise.operation_entries by name
with
-- Soft drinks are on neither.
brewed as (
    select beer, tax_class from record.beers where tax_class in ('beer', 'cereal_beverage')
),
-- Where beer counts as produced when it leaves the fermenter, what is in one is not beer on hand yet.
lots as (
    select lots.site, lots.lot, brewed.tax_class, lots.emptied_on,
        points.production_point = 'out_of_fermenter' and lots.stage = 'fermenter' as unmade
    from volume.lots as lots
    join brewed on brewed.beer = lots.beer
    join excise.production_points as points on points.site = lots.site
),
columns_of as (
    select package, case when form = 'keg' then 'racking keg' else 'bottling case' end as form_column
    from excise.packages
),
goods as (
    select moves.site, moves.date, moves.kind, moves.document, moves.line, moves.bbl, moves.file, moves.sheet, moves.row,
        columns_of.form_column, brewed.tax_class
    from cost.goods_moves as moves
    join columns_of on columns_of.package = moves.package
    join brewed on brewed.beer = moves.beer
),
-- What comes into a lot. Beer received, or pumped back, into a fermenter whose beer is still to be produced goes off the
-- statement (line 32) and comes on again with what leaves that fermenter.
inflows as (
    select inflows.site, inflows.lot, inflows.date, inflows.source, inflows.name, lots.tax_class, lots.unmade,
        coalesce(from_lots.unmade, true) as from_unmade, inflows.volume_bbl as bbl
    from volume.inflows as inflows
    join lots on lots.site = inflows.site and lots.lot = inflows.lot
    left join lots as from_lots on from_lots.site = inflows.site and from_lots.lot = inflows.from_lot
),
draws as (
    select draws.site, draws.date, draws.reason, draws.volume_bbl as bbl, moves.account, lots.tax_class, lots.unmade,
        coalesce(to_lots.unmade, false) as into_unmade
    from volume.draws as draws
    join lots on lots.site = draws.site and lots.lot = draws.lot
    left join volume.moves as moves on draws.kind = 'move' and moves.move = draws.name
    left join lots as to_lots on to_lots.site = moves.site and to_lots.lot = moves.to_lot
),
entries as (
    -- Cellar.
    select inflows.site, inflows.date, inflows.tax_class, 'cellar' as form_column,
        case inflows.source when 'opening' then 1 when 'brew' then 2 when 'added' then 3 else 5 end as form_line,
        beer_in.account, inflows.bbl
    from inflows
    left join record.beer_in as beer_in
        on inflows.source = 'received' and inflows.site = beer_in.site and inflows.lot = beer_in.lot
        and inflows.name = place_of(beer_in.file, beer_in.sheet, beer_in.row)
    where inflows.source = 'received' or (inflows.source <> 'move' and not inflows.unmade)
    union all by name
    select site, date, tax_class, 'cellar' as form_column, 2 as form_line, bbl
    from draws
    where unmade and not into_unmade
    union all by name
    select site, date, tax_class, 'cellar' as form_column, 32 as form_line, bbl
    from inflows
    where unmade and (source = 'received' or (source = 'move' and not from_unmade))
    union all by name
    select site, date, tax_class, 'cellar' as form_column,
        case reason when 'serving_tank' then 15 when 'sample' then 27 else 28 end as form_line, account, bbl
    from draws
    where reason in ('serving_tank', 'sample', 'destroyed')
    union all by name
    -- From the cellar to racking and bottling, and into packages.
    select
        lines.site, lines.date, lots.tax_class,
        unnest(case when lines.form = 'keg' then [22, 6, 25, 9] else [23, 6, 26, 10] end) as form_line,
        unnest(case when lines.form = 'keg'
            then ['cellar', 'racking bulk', 'racking bulk', 'racking keg']
            else ['cellar', 'bottling bulk', 'bottling bulk', 'bottling case'] end) as form_column,
        unnest([lines.drawn_bbl, lines.drawn_bbl, lines.good_bbl, lines.good_bbl]) as bbl
    from volume.run_lines as lines
    join lots on lots.site = lines.site and lots.lot = lines.lot
    union all by name
    -- Process losses of tanks and transfers, on the day the lot was emptied or moved; of produced beer only.
    select losses.site, coalesce(moves.date, lots.emptied_on, last_day((losses.month || '-01')::date)) as date,
        lots.tax_class, 30 as form_line, 'cellar' as form_column, losses.loss_bbl as bbl
    from volume.stage_losses as losses
    left join volume.moves as moves on moves.move = losses.move
    join lots on lots.site = losses.site and lots.lot = coalesce(losses.lot, moves.from_lot)
    left join lots as to_lots on to_lots.site = moves.site and to_lots.lot = moves.to_lot
    where losses.stage in ('fermenter', 'bright_tank', 'transfer')
        and losses.loss_bbl is not null
        and not (lots.unmade and (losses.stage = 'fermenter' or coalesce(to_lots.unmade, false)))
    union all by name
    -- Packages on hand.
    select opening.site, settings.first_day as date, brewed.tax_class, 1 as form_line, columns_of.form_column,
        barrels(opening.units, packages.bbl_numerator, packages.bbl_denominator) as bbl
    from record.opening_goods as opening
    cross join reference.settings as settings
    join excise.packages as packages on packages.package = opening.package
    join columns_of on columns_of.package = opening.package
    join brewed on brewed.beer = opening.beer
    union all by name
    select goods.site, goods.date, goods.tax_class,
        case
            when goods.kind = 'received' then 5
            when goods.kind = 'count' and goods.bbl > 0 then 11
            when goods.kind = 'count' then 31
            when goods.bbl > 0 then 12
            else 32
        end as form_line,
        goods.form_column, beer_in.account, counts.explanation, abs(goods.bbl) as bbl
    from goods
    left join record.counts as counts
        on goods.kind = 'count' and counts.file = goods.file and counts.sheet is not distinct from goods.sheet
        and counts.row = goods.row
    left join record.beer_in as beer_in
        on goods.kind = 'received' and beer_in.file = goods.file and beer_in.sheet is not distinct from goods.sheet
        and beer_in.row = goods.row
    where goods.kind in ('received', 'count', 'repacked in', 'repacked out')
    union all by name
    -- What left, by purpose: what was on hand; beer shipped that the books did not hold is found at the count.
    select goods.site, goods.date, goods.tax_class,
        case removals.purpose
            when 'tavern' then 15 when 'export' then 16 when 'vessel_supply' then 17 when 'research' then 18
            when 'in_bond' then 19 when 'unfit' then 20 when 'premises' then 21 when 'laboratory' then 27
            when 'destroyed' then 28 when 'spirits_plant' then 29 when 'casualty' then 30 else 14
        end as form_line,
        goods.form_column, removals.account, -goods.bbl as bbl
    from goods
    join excise.removals as removals
        on removals.kind = 'shipment' and removals.document = goods.document and removals.line = goods.line
    where goods.kind = 'shipped'
    union all by name
    -- What came back, here; destroyed on its return it goes out again on line 28. Line 7 is what the tax of the day is
    -- less (check 8): taxed beer that had left from here. Beer that had left another brewery of ours is line 8; beer that
    -- had left free of tax is received in bond again, or an entry of its own.
    select returns.site, returns.date, removals.tax_class, columns_of.form_column, returns.account,
        unnest([
            case
                when removals.treatment = 'claim' then 8
                when removals.treatment = 'was untaxed' and removals.purpose = 'in_bond' then 5
                when removals.treatment = 'was untaxed' then 12
                else 7
            end,
            case when returns.outcome = 'destroyed' then 28 end
        ]) as form_line,
        case when returns.outcome = 'destroyed' then -removals.bbl else goods.bbl end as bbl
    from record.returns as returns
    join excise.removals as removals
        on removals.kind = 'return' and removals.document = returns.document and removals.line = returns.line
    join brewed on brewed.beer = returns.beer
    join columns_of on columns_of.package = returns.package
    left join goods
        on goods.kind = 'restocked' and goods.document = returns.document and goods.line = returns.line
        and goods.site = returns.site
    where returns.outcome in ('destroyed', 'restocked')
)
select points.area, entries.site, entries.date, entries.tax_class, entries.form_line, entries.form_column, entries.account,
    entries.explanation, entries.bbl::decimal(18,6) as bbl
from entries
join excise.production_points as points on points.site = entries.site
where entries.bbl <> 0 and entries.form_line is not null;
