-- table: volume.problems
-- grain: one finding about volumes
-- key: none
-- units: bbl, days, degrees Plato as the message says
-- reads: volume.*, record.*, given_brews, given_readings, given_counts
-- rule: V2, V3, V6, V7, V10, C12, C15, C16
-- source: calculation rules. Common practice, no source: a rise of more than 0.2 degrees Plato; a quarter of the wort lost between
--   kettle and fermenter. A dip may lie off the book by twice the root of the sum of squares of its own reading error and of those
--   the book is made of (JCGM 100:2008, 5.1.2), the bound of every other difference of readings here

create table volume.problems (
    severity text not null,
    code text not null,
    month text,
    file text,
    sheet text,
    row bigint,
    field text,
    value text,
    expected text,
    message text not null,
    action text
);

insert into volume.problems by name
select severity, code, month_of(date) as month, file, sheet, row, field, lot as value,
    case code
        when 'ring' then 'moves that do not return on their day'
        when 'package-set-aside' then 'a package with a record'
        else 'a day on which the lot holds beer'
    end as expected,
    detail || '; the row is left out of every figure' as message,
    case code
        when 'ring' then 'correct the day of one of the moves'
        when 'package-set-aside' then 'put the record of the package right'
        else 'correct the day or the lot; beer filled into the tank again is a new lot with a new name'
    end as action
from volume.left_out;

-- A move that gains is found where its row is checked (record.problems), set aside or not.
insert into volume.problems by name
with
wide as (
    select losses.month, brews.file, brews.sheet, brews.row, 'into_fermenter' as field, losses.*
        exclude (month)
    from volume.stage_losses as losses
    join record.brews on brews.brew = losses.brew
    where losses.stage = 'kettle'
    union all by name
    select losses.month, packaging.file, packaging.sheet, packaging.row, 'volume_drawn' as field,
        losses.* exclude (month)
    from volume.stage_losses as losses
    join record.packaging on packaging.run = losses.run and packaging.line = losses.line
    where losses.stage = 'packaging'
)
select
    'warning' as severity, 'readings-disagree' as code, month, file, sheet, row, field,
    shown(volume_out_bbl) as value, 'at most ' || shown(volume_in_bbl + 2 * reading_error_bbl) || ' bbl' as expected,
    shown(volume_in_bbl) || ' bbl went in and ' || shown(volume_out_bbl) || ' came out: a gain of '
        || shown(-loss_bbl) || ' bbl, beyond twice the reading error of ' || shown(reading_error_bbl) as message,
    'take both readings again' as action
from wide
where loss_bbl < -2 * reading_error_bbl
union all by name
-- Wort that was dumped came to 0 and is lost for all to see.
select
    'warning' as severity, 'readings-disagree' as code, month, file, sheet, row, field,
    shown(volume_out_bbl) as value, 'at least ' || shown(0.75 * volume_in_bbl) || ' bbl' as expected,
    shown(volume_in_bbl) || ' bbl stood in the kettle, brought to 20 degrees Celsius, and ' || shown(volume_out_bbl)
        || ' came into the fermenter: more than a quarter of the wort lost' as message,
    'take both readings again, or check their unit' as action
from wide
where stage = 'kettle' and volume_out_bbl > 0 and loss_bbl > 0.25 * volume_in_bbl and loss_bbl > 2 * reading_error_bbl;

-- The first day on which more has been drawn than the lot held.
insert into volume.problems by name
with
overdrawn as (
    select lot_days.*
    from volume.lot_days
    left join record.lot_starts as starts using (site, lot)
    -- What is drawn before anything came in is a finding of its own.
    where in_hand_bbl < -2 * reading_error_bbl and drawn_bbl > 0 and date >= coalesce(starts.filled_on, date)
    qualify row_number() over (partition by site, lot order by date) = 1
),
last_draw as (
    select draws.site, draws.lot, draws.date, draws.name, draws.volume_bbl,
        coalesce(moves.file, packaging.file) as file, coalesce(moves.sheet, packaging.sheet) as sheet,
        coalesce(moves.row, packaging.row) as row,
        case draws.kind when 'move' then 'volume_out' else 'volume_drawn' end as field
    from volume.draws
    left join record.moves on draws.kind = 'move' and moves.move = draws.name
    left join record.packaging on draws.kind = 'run' and packaging.run = draws.name and packaging.line = draws.line
    qualify row_number() over (
        partition by draws.site, draws.lot, draws.date order by draws.kind desc, draws.name desc, draws.line desc
    ) = 1
)
select
    'warning' as severity, 'overdrawn' as code, month_of(overdrawn.date) as month, last_draw.file, last_draw.sheet,
    last_draw.row, last_draw.field, shown(last_draw.volume_bbl) as value,
    'at most ' || shown(greatest(last_draw.volume_bbl + overdrawn.in_hand_bbl, 0)) || ' bbl' as expected,
    'lot ' || overdrawn.lot || ' has given ' || shown(-overdrawn.in_hand_bbl) || ' bbl more than it held with draw '
        || last_draw.name || ', beyond twice its reading error of ' || shown(overdrawn.reading_error_bbl) as message,
    'check what went into the lot and what was drawn' as action
from overdrawn
join last_draw using (site, lot, date);

insert into volume.problems by name
select
    'warning' as severity, 'missing-reading' as code, month_of(date) as month, file, sheet, row,
    'end_of_boil' as field, null as value, 'the volume in the kettle at the end of the boil' as expected,
    'the kettle was not read, so the loss of brew ' || brew || ' into the fermenter is not measured' as message,
    'write the reading in if the paper has it' as action
from record.brews
where end_of_boil_bbl is null
union all by name
select
    'warning' as severity, 'missing-reading' as code, month_of(date) as month, file, sheet, row,
    'volume_in' as field, null as value, 'the volume in the tank that was filled' as expected,
    'the tank filled by move ' || move || ' was not read, so the loss of the transfer is not measured' as message,
    'write the reading in if the paper has it' as action
from record.moves
where to_lot is not null and volume_in_bbl is null;

insert into volume.problems by name
select
    'warning' as severity, 'other-beer' as code, month_of(inflows.date) as month,
    coalesce(brews.file, moves.file) as file, coalesce(brews.sheet, moves.sheet) as sheet,
    coalesce(brews.row, moves.row) as row, case inflows.source when 'brew' then 'lot' else 'to_lot' end as field,
    inflows.lot as value, 'a lot of ' || coalesce(inflows.beer, from_lots.beer) as expected,
    coalesce(inflows.beer, from_lots.beer) || ' flows into lot ' || inflows.lot || ' of ' || lots.beer
        || '; the lot keeps its name' as message,
    'give the lot the beer it goes on as, if it is not ' || lots.beer as action
from volume.inflows
join volume.lots using (site, lot)
left join volume.lots as from_lots on from_lots.site = inflows.site and from_lots.lot = inflows.from_lot
left join record.brews on inflows.source = 'brew' and brews.brew = inflows.name
left join record.moves on inflows.source = 'move' and moves.move = inflows.name
where coalesce(inflows.beer, from_lots.beer) <> lots.beer and inflows.source in ('brew', 'move')
    -- The move that begins a lot as another beer names it; that is no mixing.
    and inflows.date >= lots.opened_on;

insert into volume.problems by name
with
stays as (
    select *, lead(lot) over following as next_lot, lead(opened_on) over following as next_opened_on
    from volume.lots
    where vessel is not null
    window following as (partition by site, vessel order by opened_on, emptied_on nulls last, lot)
)
select
    'warning' as severity, 'vessel-shared' as code, month_of(stays.next_opened_on) as month, places.file, places.sheet,
    places.row, places.field, stays.vessel as value, 'one lot at a time' as expected,
    'tank ' || stays.vessel || ' takes lot ' || stays.next_lot || ' on ' || stays.next_opened_on || ' while lot '
        || stays.lot || coalesce(' is emptied on ' || stays.emptied_on, ' was never emptied') as message,
    'say which move or run emptied lot ' || stays.lot || ', or correct the tank' as action
from stays
left join volume.filling_places as places on places.site = stays.site and places.lot = stays.next_lot
    and places.date = stays.next_opened_on
where stays.next_opened_on < coalesce(stays.emptied_on, date '9999-12-31');

insert into volume.problems by name
with
filled as (
    select lots.*, lot_days.date, lot_days.in_hand_bbl + lot_days.drawn_bbl as filled_bbl
    from volume.lot_days
    join volume.lots using (site, lot)
    where lot_days.in_bbl > 0 and lots.working_volume_bbl is not null
)
select
    'warning' as severity, 'vessel-overfilled' as code, month_of(filled.date) as month, places.file, places.sheet,
    places.row, places.field, filled.vessel as value,
    'at most ' || shown(filled.working_volume_bbl) || ' bbl' as expected,
    'lot ' || filled.lot || ' stands at ' || shown(filled.filled_bbl) || ' bbl in tank ' || filled.vessel || ' of '
        || shown(filled.working_volume_bbl) || ' bbl on ' || filled.date as message,
    'check the tank and the volumes' as action
from filled
left join volume.filling_places as places on places.site = filled.site and places.lot = filled.lot
    and places.date = filled.date
where filled.filled_bbl > filled.working_volume_bbl + 2 * filled.tolerance_bbl;

-- Wort in the kettle, where the site has only one.
insert into volume.problems by name
with boils as (
    select brews.file, brews.sheet, brews.row, brews.date, brews.site, brews.brew, given.volume_unit as unit,
        unnest([
            {field: 'kettle_full', quantity: given.kettle_full, bbl: brews.kettle_full_bbl},
            {field: 'end_of_boil', quantity: given.end_of_boil, bbl: brews.end_of_boil_bbl}
        ], recursive := true)
    from record.brews
    join given_brews as given on given.file = brews.file and given.sheet is not distinct from brews.sheet
        and given.row = brews.row
)
select
    'warning' as severity, 'vessel-overfilled' as code, month_of(boils.date) as month, boils.file, boils.sheet, boils.row,
    boils.field, shown(boils.quantity) as value, 'at most ' || shown(kettles.working_volume_bbl) || ' bbl' as expected,
    'brew ' || boils.brew || ' stands at ' || as_typed(boils.quantity, boils.unit, boils.bbl) || ' in ' || kettles.vessel
        || ', a kettle of ' || shown(kettles.working_volume_bbl) || ' bbl' as message,
    'check the volume and its unit' as action
from boils
join volume.kettles as kettles using (site)
where boils.bbl > kettles.working_volume_bbl + 2 * kettles.tolerance_bbl;

-- A dip is held against its tank, and then against the book of its day: from the least to the most the lot held, for it may
-- stand before or after whatever moved. What is lost on the way is in the book until the lot is emptied, so the least is less
-- what was allowed; a lot that was emptied before holds nothing.
insert into volume.problems by name
with
dips as (
    select readings.file, readings.sheet, readings.row, readings.date, readings.lot, readings.volume_bbl,
        as_typed(given.volume, given.volume_unit, readings.volume_bbl) as typed, shown(given.volume) as value,
        lots.vessel, lots.working_volume_bbl,
        coalesce(readings.volume_bbl > lots.working_volume_bbl + 2 * lots.tolerance_bbl, false) as overfilled,
        case
            when days.date is null or (days.emptied and days.date < readings.date) then 0
            when days.date = readings.date then days.in_hand_bbl + days.drawn_bbl
            else days.in_hand_bbl
        end as most_bbl,
        case
            when days.date is null or days.emptied then 0
            when days.date = readings.date then greatest(days.expected_bbl - days.in_bbl - days.drawn_bbl, 0)
            else greatest(days.expected_bbl - days.drawn_bbl, 0)
        end as least_bbl,
        shown(least_bbl) || if(least_bbl < most_bbl, ' to ' || shown(most_bbl), '') || ' bbl' as held,
        sqrt(lots.tolerance_bbl::double ** 2 + coalesce(days.reading_error_bbl, 0)::double ** 2) as reading_error_bbl
    from record.readings
    join given_readings as given on given.file = readings.file and given.sheet is not distinct from readings.sheet
        and given.row = readings.row
    join volume.lots on lots.site = readings.site and lots.lot = readings.lot
    asof left join volume.lot_days as days on days.site = readings.site and days.lot = readings.lot
        and readings.date >= days.date
    where readings.volume_bbl is not null
)
select
    'warning' as severity, 'vessel-overfilled' as code, month_of(date) as month, file, sheet, row, 'volume' as field, value,
    'at most ' || shown(working_volume_bbl) || ' bbl' as expected,
    'lot ' || lot || ' was read at ' || typed || ' in tank ' || vessel || ' of ' || shown(working_volume_bbl) || ' bbl on '
        || date as message,
    'check the volume, its unit and the lot' as action
from dips
where overfilled
union all by name
select
    'warning' as severity, 'reading-differs' as code, month_of(date) as month, file, sheet, row, 'volume' as field, value,
    held as expected,
    'lot ' || lot || ' was read at ' || typed || ' on ' || date || '; by the book it held ' || held || ' that day'
        as message,
    'dip the tank again, or check what went in and out' as action
from dips
where not overfilled
    and volume_bbl not between least_bbl - 2 * reading_error_bbl and most_bbl + 2 * reading_error_bbl;

insert into volume.problems by name
select
    'warning' as severity, 'fill-unlike-package' as code, month_of(packaging.date) as month, packaging.file, packaging.sheet,
    packaging.row, 'average_fill' as field, packaging.average_fill_bbl::decimal(18,6)::text as value,
    'within 15 % of the container''s size' as expected,
    'the containers of ' || packaging.package || ' in run ' || packaging.run || ' hold '
        || abs(over_pct(packaging.average_fill_bbl, packages.containers, packages.bbl_numerator, packages.bbl_denominator))
            ::decimal(18,0)
        || case when packaging.average_fill_bbl::double * packages.containers * packages.bbl_denominator::double
            > packages.bbl_numerator::double then ' % more' else ' % less' end
        || ' than their size, so overfill and spill of the run are not told apart'
        || case when packages.form = 'keg' then '; where a keg is taxed on what it holds, these are' else '' end as message,
    'check average_fill, the content of one container, and fill_unit, which is bbl where it is blank' as action
from record.packaging as packaging
join record.packages as packages on packages.package = packaging.package
where fill_unlike(packaging.average_fill_bbl, packages.containers, packages.bbl_numerator, packages.bbl_denominator);

insert into volume.problems by name
with
-- The first reading is held against the strongest wort that was brewed into the lot.
worts as (
    select site, lot, max(original_plato) as plato, min(date) as date
    from record.brews
    group by site, lot
),
gravities as (
    select readings.*,
        coalesce(lag(readings.plato) over following, worts.plato) as before_plato,
        coalesce(lag(readings.date) over following, worts.date) as before_date
    from record.readings as readings
    left join worts on worts.site = readings.site and worts.lot = readings.lot and worts.date <= readings.date
    where readings.plato is not null
    window following as (
        partition by readings.site, readings.lot order by readings.date, readings.file, readings.sheet nulls first, readings.row
    )
)
select
    'warning' as severity, 'gravity-rises' as code, month_of(gravities.date) as month, gravities.file,
    gravities.sheet, gravities.row, 'gravity' as field, shown(gravities.plato) as value,
    'at most ' || shown(gravities.before_plato) || ' degrees Plato' as expected,
    'the gravity of lot ' || gravities.lot || ' rises from ' || shown(gravities.before_plato) || ' on '
        || gravities.before_date || ' to ' || shown(gravities.plato) || ' degrees Plato' as message,
    'read it again' as action
from gravities
where gravities.plato > gravities.before_plato + 0.2;

-- A count of a lot is compared with the book of the day it was taken; it moves nothing (C16).
insert into volume.problems by name
with
counted as (
    select counts.*, lots.tolerance_bbl, coalesce(days.in_hand_bbl, 0) as book_bbl, shown(given.quantity) as value,
        as_typed(given.quantity, given.unit, counts.volume_bbl) as typed
    from record.counts
    join given_counts as given on given.file = counts.file and given.sheet is not distinct from counts.sheet
        and given.row = counts.row
    join volume.lots on lots.site = counts.site and lots.lot = counts.lot
    asof left join volume.lot_days as days on days.site = counts.site and days.lot = counts.lot
        and counts.counted_on >= days.date
)
select
    'warning' as severity, 'count-differs' as code, month_of(date) as month, file, sheet, row, 'quantity' as field, value,
    shown(book_bbl) || ' bbl by the book' as expected,
    'lot ' || lot || ' was counted at ' || typed || ' and stands at ' || shown(book_bbl) || ' bbl by the book' as message,
    'dip the tank again' as action
from counted
where abs(volume_bbl - book_bbl) > 2 * tolerance_bbl;

-- Beer that leaves a lot, or is read in it, before anything came into it.
insert into volume.problems by name
with
touches as (
    select 'error' as severity, file, sheet, row, site, date, from_lot as lot, 'from_lot' as field,
        'gives beer with move ' || move as detail
    from record.moves
    union all by name
    select 'error' as severity, file, sheet, row, site, date, lot, 'lot' as field, 'gives beer to run ' || run as detail
    from record.packaging
    union all by name
    select 'warning' as severity, file, sheet, row, site, date, lot, 'lot' as field, 'is read' as detail
    from record.readings
)
select
    touches.severity, 'before-lot' as code, month_of(touches.date) as month, touches.file, touches.sheet, touches.row,
    touches.field, touches.lot as value, 'a lot that was filled by ' || touches.date as expected,
    'lot ' || touches.lot || ' ' || touches.detail || ' on ' || touches.date || ', and was first filled on '
        || starts.filled_on as message,
    'correct the day or the lot, or the day of what filled it' as action
from touches
join record.lot_starts as starts using (site, lot)
where touches.date < starts.filled_on;
