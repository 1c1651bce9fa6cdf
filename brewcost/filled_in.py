"""What the tool fills in where less was written: numbers of documents, the lot in a tank, marks on a gauge, levels.

It runs before names are checked, a statement for all rows of all kinds at once, in a database of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from brewcost import steps
from brewcost.cells import Table, quoted
from brewcost.kinds import MARK

if TYPE_CHECKING:
    import duckdb
    import polars as pl

# Fields that ask for a lot; the last one may begin a lot of its own.
LOT_FIELDS = (("uses", "lot"), ("moves", "from_lot"), ("readings", "lot"), ("packaging", "lot"), ("counts", "lot"),
              ("labour", "lot"), ("moves", "to_lot"))  # fmt: skip
# Figures that may be marks: kind, field, and where their tank is named: a vessel's field, a lot's, or the site's kettle.
MARKED = (("brews", "into_fermenter", "vessel"), ("brews", "fermenter_level_after", "vessel"), ("brews", "kettle_full", ""),
          ("brews", "end_of_boil", ""), ("moves", "volume_out", "from_lot"), ("moves", "volume_in", "to_vessel"),
          ("readings", "volume", "lot"), ("packaging", "volume_drawn", "lot"))  # fmt: skip
_NEEDED = ("vessels", "vessel_scale", "opening_lots", "brews", "moves", "packaging", "beer_in")
# Names are compared in lower case. A to_lot that is a tank's name is that tank, unless a brew, an opening lot or
# received beer brings a lot of that name.
_LOTS = """
create table tanks as select distinct lower(site) as site, lower(vessel) as vessel from vessels;
create table lots as select lot from (
    select lower(lot) as lot from opening_lots union select lower(lot) from brews union select lower(lot) from beer_in
    union
    select lower(to_lot) from moves
    anti join tanks on tanks.site = lower(moves.site) and tanks.vessel = lower(moves.to_lot)
) where lot is not null;  -- a null among them would make every `not in` unknown
create table fillings as
with inflows as (
    select lower(site) as site, lot, vessel, date '0001-01-01' as date from opening_lots
    union all select lower(site), lot, vessel, date from brews
    union all select lower(site), to_lot, to_vessel, date from moves where lower(to_lot) in (from lots)
)
select site, lower(lot) as lot, min(lot) as name, lower(arg_min(vessel, date)) as vessel, min(date) as opened_on
from inflows where lot is not null and date is not null group by site, lower(lot);
create table ends as
    select lower(site) as site, lower(from_lot) as name, date from moves where lot_emptied or reason = 'empty'
    union all select lower(site), lower(lot), date from packaging where lot_emptied;
"""
_IN_TANKS = """
with
tank_ends as (
    select ends.* from ends semi join tanks on tanks.site = ends.site and tanks.vessel = ends.name
    where ends.name not in (from lots)
),
named as (
    select fillings.*, min(ends.date) as named_end
    from fillings left join ends on ends.site = fillings.site and ends.name = fillings.lot
    group by all
),
next_ends as (
    select named.*, same.date as end_from, later.date as end_after
    from named
    asof left join tank_ends as same on same.site = named.site and same.name = named.vessel and named.opened_on <= same.date
    asof left join tank_ends as later on later.site = named.site and later.name = named.vessel and named.opened_on < later.date
),
-- That a tank was emptied ends the lot in it. On the day it is filled again, that is the lot from before, if one was still
-- in it: the lots filled on earlier days reach up to `reach`.
ended as (
    select site, lot, name, vessel, opened_on,
        least(named_end, case when reach >= opened_on then end_after else end_from end) as emptied_on
    from (
        select *, max(coalesce(least(named_end, end_from), date '9999-12-31')) over (
            partition by site, vessel order by opened_on range between unbounded preceding and interval 1 day preceding
        ) as reach
        from next_ends
    )
)
select asked.kind, asked.field, asked.i, count(ended.lot) as lots, min(ended.name) as lot,
    string_agg(ended.name, ', ' order by ended.name) as listed
from asked
join tanks on tanks.site = lower(asked.site) and tanks.vessel = lower(asked.name)
left join ended on ended.site = tanks.site and ended.vessel = tanks.vessel and ended.opened_on <= asked.date
    and (ended.emptied_on is null or ended.emptied_on > asked.date
        or (ended.emptied_on = asked.date and asked.field <> 'to_lot'))
where lower(asked.name) not in (from lots) and asked.date is not null
group by all
"""
_SCALE = """
create table scale as
select lower(site) as site, lower(vessel) as vessel, mark, convert6(volume, numerator, denominator) as bbl
from vessel_scale join reference.units on units.unit = vessel_scale.volume_unit
where mark is not null and volume is not null
qualify row_number() over (partition by lower(site), lower(vessel), mark order by i) = 1;
create table kettles as
select site, min(vessel) as vessel from (
    select distinct scale.site, scale.vessel from scale
    join vessels on lower(vessels.site) = scale.site and lower(vessels.vessel) = scale.vessel and vessels.kind = 'kettle'
) group by site having count(*) = 1;
"""
_READ_OFF = """
with placed as (
    select marked.*, lower(marked.site) as at_site,
        case marked.by when 'vessel' then lower(marked.name) when 'lot' then fillings.vessel else kettles.vessel end as tank
    from marked
    left join fillings on marked.by = 'lot' and fillings.site = lower(marked.site) and fillings.lot = lower(marked.name)
    left join kettles on marked.by = 'kettle' and kettles.site = lower(marked.site)
),
around as (
    select placed.kind, placed.field, placed.i, placed.mark, placed.by, placed.name,
        coalesce(min(vessels.vessel), placed.tank) as tank,
        min(scale.mark) as lowest, max(scale.mark) as highest,
        max(scale.mark) filter (where scale.mark <= placed.mark) as below,
        min(scale.mark) filter (where scale.mark >= placed.mark) as above,
        arg_max(scale.bbl, scale.mark) filter (where scale.mark <= placed.mark) as below_bbl,
        arg_min(scale.bbl, scale.mark) filter (where scale.mark >= placed.mark) as above_bbl
    from placed
    left join scale on scale.site = placed.at_site and scale.vessel = placed.tank
    left join vessels on lower(vessels.site) = placed.at_site and lower(vessels.vessel) = placed.tank
    group by placed.kind, placed.field, placed.i, placed.mark, placed.by, placed.name, placed.tank
)
select kind, field, i, lowest is not null as scaled, below is not null and above is not null as inside,
    case
        when around.by = 'kettle' then 'the site''s kettle has no scale'
        when tank is null and around.by = 'vessel' then 'no tank is named'
        when tank is null then coalesce('the tank of lot `' || name || '`', 'the tank of its lot') || ' is not known'
        else 'tank `' || tank || '`' || if(around.by = 'lot', ' of lot `' || name || '`', '') || ' has no scale'
    end as lacking,
    coalesce(tank, '') as tank, format('{:g} to {:g}', lowest::double, highest::double) as range,
    case when below = above then below_bbl
        else below_bbl + divide6((above_bbl - below_bbl)::double * (mark - below)::double, above - below)
    end::decimal(18,6) as bbl
from around
"""
# Held before a brew: the level after the last brew whose level is known, and what the brews since then brought.
_LEVELS = """
with brewed as (
    select i, lower(lot) as lot, date, lower(brew) as brew, into_fermenter as brought, fermenter_level_after as level,
        numerator, denominator, unit
    from brews join reference.units on units.unit = brews.volume_unit
    where lot is not null and date is not null
    qualify row_number() over (partition by lower(brew) order by i) = 1
),
grouped as (
    select *,
        count(level) over (partition by lot order by date, brew, i rows between unbounded preceding and 1 preceding) as part
    from brewed
),
targets as (select * from grouped where level is not null),
before as (
    select targets.i,
        count(*) filter (where brewed.i is not null and brewed.brought is null and brewed.level is null) as unknown,
        coalesce(sum(convert6(case when brewed.level is not null then brewed.level else brewed.brought end,
            brewed.numerator::hugeint * targets.denominator, brewed.denominator::hugeint * targets.numerator)), 0) as held
    from targets
    left join grouped as brewed on brewed.lot = targets.lot and brewed.i <> targets.i
        and (brewed.part = targets.part and brewed.level is null
            or brewed.part = targets.part - 1 and brewed.level is not null)
    group by targets.i
),
opened as (
    select lower(lot) as lot, first(volume order by i) as volume, first(numerator order by i) as numerator,
        first(denominator order by i) as denominator
    from opening_lots join reference.units on units.unit = opening_lots.volume_unit
    where volume is not null group by lower(lot)
)
select targets.i, targets.level - held - coalesce(case when targets.part = 0 then convert6(opened.volume,
        opened.numerator::hugeint * targets.denominator, opened.denominator::hugeint * targets.numerator) end, 0) as brought,
    unknown > 0 as unsure, targets.unit as unit
from targets join before using (i) left join opened on opened.lot = targets.lot
"""


def fill(tables: Mapping[str, Table]) -> None:
    """Fill in, in `typed`, what the tool can know; what it cannot is a finding of severity error."""
    for table in tables.values():
        _numbers(table)
    marked = any((tables[kind].typed["volume_unit"] == MARK).any() for kind in dict(_kinds_marked()))
    levels = tables["brews"].typed["fermenter_level_after"].null_count() < tables["brews"].typed.height
    named = _may_name_tanks(tables)
    if not (marked or levels or named):
        return
    import duckdb

    with duckdb.connect() as con:
        _prepare(con, tables)
        if named:
            _lots_in_tanks(con, tables)
        if marked:
            _read_off(con, tables)
        if levels:
            _levels(con, tables)


def _kinds_marked() -> list[tuple[str, str]]:
    return [(kind, "volume_unit") for kind, _, _ in MARKED]


def _numbers(table: Table) -> None:
    """Give a blank number the place of its row: the same at every loading, whatever other files are added."""
    import polars as pl

    for entry in table.kind.fields:
        if entry.numbered_by is None or table.text.height == 0:
            continue
        group = ["of_file", "of_sheet", *(pl.col(name).str.to_lowercase() for name in entry.numbered_by)]
        blank = table.text[entry.name].is_null()
        if not blank.any():
            continue
        first = pl.col("of_row")
        if entry.numbered_by:
            first = first.filter(pl.col(entry.name).is_null()).min().over(group)
        sheet = pl.format(" {}", "of_sheet").fill_null("")
        number = table.text.select(pl.format("{}{} row {}", "of_file", sheet, first).alias("number"))["number"]
        # Somebody may have written just that; then it is theirs.
        theirs = number.str.to_lowercase().is_in(table.text[entry.name].str.to_lowercase().drop_nulls().implode())
        number = number.zip_with(~theirs, number + " (blank)")
        table.typed = table.typed.with_columns(
            pl.when(blank).then(number).otherwise(pl.col(entry.name)).alias(entry.name)
        )


def _may_name_tanks(tables: Mapping[str, Table]) -> bool:
    vessels = tables["vessels"].typed["vessel"].drop_nulls().str.to_lowercase().unique()
    return any(
        tables[kind].typed[name].str.to_lowercase().is_in(vessels.implode()).any() for kind, name in LOT_FIELDS
    )


def _prepare(con: duckdb.DuckDBPyConnection, tables: Mapping[str, Table]) -> None:
    """The tables of the records as they are, the units, and the lots with their tanks."""
    con.execute("create schema reference")
    for step in steps.find(["10_reference", "20_records"]):
        if step.table == "reference.units" or step.path.name in ("01_macros.sql", "00_macros.sql"):
            con.execute(step.text)
    for kind in _NEEDED:
        con.register(kind, _current(tables[kind]).to_arrow())
    con.execute(_LOTS)


def _current(table: Table) -> pl.DataFrame:
    """Its rows without those for which a mended row was handed in."""
    return table.typed.filter(~table.text["claimed"])


def _frame(con: duckdb.DuckDBPyConnection, query: str) -> pl.DataFrame:
    import polars as pl

    return pl.DataFrame(con.sql(query).to_arrow_table())


def _lots_in_tanks(con: duckdb.DuckDBPyConnection, tables: Mapping[str, Table]) -> None:
    import polars as pl

    asked = pl.concat(
        tables[kind].typed.select(
            pl.lit(kind).alias("kind"), pl.lit(name).alias("field"), "i", "site", "date", pl.col(name).alias("name")
        ).filter(pl.col("name").is_not_null())
        for kind, name in LOT_FIELDS
    )  # fmt: skip
    con.register("asked", asked.to_arrow())
    found = _frame(con, _IN_TANKS)
    for kind, name in LOT_FIELDS:
        table = tables[kind]
        rows = found.filter((pl.col("kind") == kind) & (pl.col("field") == name))
        if rows.height == 0:
            continue
        beside = table.text.select("i").join(rows, on="i", how="left", maintain_order="left")
        action = "write the lot's name" if name != "to_lot" else "write the lot's name, a new one where a lot begins"
        table.find(beside["lots"] == 0, "tank-empty", name, pl.format("no lot is known to be in tank {} that day", quoted()),
                   "a lot, or a tank with a lot in it", action)  # fmt: skip
        table.find(beside["lots"] > 1, "tank-ambiguous", name,
                   pl.format("more than one lot was in tank {} that day: {}", quoted(), "listed"),
                   "a lot, or a tank with one lot in it", action, [beside["listed"]])  # fmt: skip
        one = pl.when(beside["lots"] == 1).then(beside["lot"]).otherwise(None)
        table.typed = table.typed.with_columns(
            pl.when(beside["lots"].is_not_null()).then(one).otherwise(pl.col(name)).alias(name)
        )
    # What was named by tank is now named by lot.
    con.execute("drop table tanks; drop table lots; drop table fillings; drop table ends")
    for kind in _NEEDED:
        con.register(kind, _current(tables[kind]).to_arrow())
    con.execute(_LOTS)


def _read_off(con: duckdb.DuckDBPyConnection, tables: Mapping[str, Table]) -> None:
    """Turn marks into barrels: in a straight line between two marks of the tank's scale."""
    import polars as pl

    con.execute(_SCALE)
    marked = pl.concat(
        tables[kind].typed.filter((pl.col("volume_unit") == MARK) & pl.col(name).is_not_null()).select(
            pl.lit(kind).alias("kind"), pl.lit(name).alias("field"), "i", "site", pl.col(name).alias("mark"),
            pl.lit({"": "kettle", "vessel": "vessel", "to_vessel": "vessel"}.get(where, "lot")).alias("by"),
            (pl.col(where) if where else pl.lit(None, pl.String)).alias("name"),
        )
        for kind, name, where in MARKED
    )  # fmt: skip
    con.register("marked", marked.to_arrow())
    found = _frame(con, _READ_OFF)
    for kind, name, _ in MARKED:
        table = tables[kind]
        rows = found.filter((pl.col("kind") == kind) & (pl.col("field") == name)).drop("kind", "field")
        beside = table.text.select("i").join(rows, on="i", how="left", maintain_order="left")
        table.find(~beside["scaled"], "no-scale", name, pl.format("{} is a mark, and {}", quoted(), "lacking"),
                   "a vessel_scale of that tank", "add its marks to vessel_scale, or write a volume",
                   [beside["lacking"]])  # fmt: skip
        table.find(beside["scaled"] & ~beside["inside"], "outside-scale", name,
                   pl.format("{} is outside the scale of tank `{}`", quoted(), "tank"),
                   pl.format("a mark from {}", "range"), "read it again, or add the mark to vessel_scale",
                   [beside["tank"], beside["range"]])  # fmt: skip
        table.typed = table.typed.with_columns(
            pl.when(pl.col("volume_unit") == MARK).then(beside["bbl"]).otherwise(pl.col(name)).alias(name)
        )
    for kind, unit in dict(_kinds_marked()).items():
        table = tables[kind]
        table.typed = table.typed.with_columns(pl.col(unit).replace(MARK, "bbl").alias(unit))
    con.register("brews", _current(tables["brews"]).to_arrow())


def _levels(con: duckdb.DuckDBPyConnection, tables: Mapping[str, Table]) -> None:
    """The wort a brew brought in: the level after it less what the lot's earlier brews had brought."""
    import polars as pl

    table = tables["brews"]
    beside = table.text.select("i").join(_frame(con, _LEVELS), on="i", how="left", maintain_order="left")
    less = (-pl.col("brought")).cast(pl.String).str.strip_chars_end("0").str.strip_chars_end(".")
    beside = beside.with_columns(less.alias("less"))
    name = "fermenter_level_after"
    # Where a mended row was handed in, the level counts there.
    table.find(table.text["claimed"] & table.typed[name].is_not_null(), "level-unknown", name,
               "another row stands for this one", "one row a brew", "take one of them out")  # fmt: skip
    table.find(beside["unsure"], "level-unknown", name,
               "the lot's earlier brews do not all say what they brought in, so it cannot be taken off",
               "earlier brews of the lot with a volume", "put the earlier brew right, or write into_fermenter")  # fmt: skip
    table.find(~beside["unsure"] & (beside["brought"] < 0), "level-falls", name,
               pl.format("{} is {} {} less than the lot's earlier brews had brought in", quoted(), "less", "unit"),
               "the level after this brew, with what was there before", "mend the level, or the order of the brews",
               [beside["less"], beside["unit"]])  # fmt: skip
    good = (~beside["unsure"] & (beside["brought"] >= 0)).fill_null(False)
    table.typed = table.typed.with_columns(
        pl.when(good & pl.col("into_fermenter").is_null()).then(beside["brought"].cast(pl.Decimal(18, 6)))
        .otherwise(pl.col("into_fermenter")).alias("into_fermenter")
    )  # fmt: skip
