"""What one row, or the rows of one kind together, must satisfy beyond their cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from brewcost.cells import Table, quoted, saying

if TYPE_CHECKING:
    import polars as pl

PAPERS = ("receipts", "expenses", "payments")  # kinds of money without a number of their own
INSIDE = ("transfer", "filter", "blend")  # reasons of a move that stays in the cellar


def within_rows(tables: Mapping[str, Table]) -> None:
    """Fields of one row that exclude or require each other."""
    for table in tables.values():
        if table.text.height == 0:
            continue
        if table.kind.exactly_one:
            _exactly_one(table)
        if table.kind.at_most_one:
            _at_most_one(table)
    _moves(tables["moves"])
    _counted_later(tables["counts"])
    _readings(tables["readings"])
    _gravities(tables)
    _temperatures(tables["brews"])
    _scales(tables["vessel_scale"])
    _added_liquid(tables["uses"])
    _hop_losses(tables["standards"])
    _areas(tables["accounts"])


def _exactly_one(table: Table) -> None:
    """Exactly one group of fields is touched, and that one is complete."""
    import polars as pl

    groups = table.kind.exactly_one
    filled = table.text.select(
        pl.any_horizontal(pl.col(name).is_not_null() for name in group).alias(str(place))
        for place, group in enumerate(groups)
    )
    number = filled.sum_horizontal()
    listed = ", ".join(" with ".join(group) for group in groups)
    table.find(number == 0, "exactly-one", groups[0][0], "none of the fields is filled of which one must be",
               f"exactly one of {listed}", f"fill in one of {listed}")  # fmt: skip
    before = pl.Series([0]).new_from_index(0, filled.height)
    for place, group in enumerate(groups):
        here = filled[str(place)]
        # The second group is where it went wrong.
        table.find(here & (before == 1), "exactly-one", group[0], "more than one is filled of which only one may be",
                   f"exactly one of {listed}", "leave all but one blank")  # fmt: skip
        before = before + here.cast(pl.Int64)
        for field in group:
            blank = here & (number == 1) & table.text[field].is_null()
            table.find(blank, "missing-value", field, f"{field} is blank", f"{' with '.join(group)}",
                       f"fill in {field}")  # fmt: skip


def _at_most_one(table: Table) -> None:
    import polars as pl

    names = table.kind.at_most_one
    before = pl.Series([0]).new_from_index(0, table.text.height)
    for name in names:
        here = table.text[name].is_not_null()
        table.find(here & (before == 1), "at-most-one", name, "more than one field is filled of which only one may be",
                   f"at most one of {', '.join(names)}", "leave all but one blank")  # fmt: skip
        before = before + here.cast(pl.Int64)


def _moves(table: Table) -> None:
    reason, to_lot = table.typed["reason"], table.typed["to_lot"]
    stays = reason.is_in(INSIDE)
    table.find(stays & table.text["to_lot"].is_null(), "missing-value", "to_lot", "to_lot is blank",
               "the lot it goes to", "fill in to_lot, or give the reason for which it leaves the cellar")  # fmt: skip
    table.find(~stays & to_lot.is_not_null(), "wrong-combination", "to_lot",
               quoted() + " is given, but for this reason the beer leaves the cellar", "a blank to_lot",
               "leave to_lot blank, or mend the reason")  # fmt: skip
    table.find(stays & (to_lot == table.typed["from_lot"]), "wrong-combination", "to_lot",
               quoted() + " is the lot it leaves", "another lot than from_lot", "mend from_lot or to_lot")  # fmt: skip


def _added_liquid(table: Table) -> None:
    adds = table.typed["adds_volume"].is_not_null() & (table.typed["adds_volume"] > 0)
    table.find(adds & table.text["lot"].is_null(), "wrong-combination", "adds_volume",
               quoted() + " is added, but no lot is named", "a lot beside adds_volume",
               "name the lot it was added to")  # fmt: skip


def _hop_losses(table: Table) -> None:
    elsewhere = table.text["loss_bbl_per_lb_hops"].is_not_null() & ~table.typed["stage"].is_in(("fermenter", "bright_tank"))
    table.find(elsewhere, "wrong-combination", "loss_bbl_per_lb_hops",
               quoted() + " is given for a stage at which no hops lie in the lot", "stage fermenter or bright_tank",
               "leave it blank, or mend the stage")  # fmt: skip


def _counted_later(table: Table) -> None:
    early = table.typed["counted_on"] < table.typed["date"]
    table.find(early, "wrong-combination", "counted_on",
               saying("is before the day whose closing stock it is"), "the day itself or a later one",
               "mend counted_on, or date")  # fmt: skip
    table.find(table.text["account"].is_not_null() & table.text["package"].is_null(), "wrong-combination", "account",
               quoted() + " holds packages only, and none is named", "a beer and a package beside account",
               "name beer and package, or leave account blank")  # fmt: skip


def _readings(table: Table) -> None:
    table.find(table.text["volume"].is_null() & table.text["gravity"].is_null(), "missing-value", "volume",
               "neither a volume nor a gravity is given", "a volume, a gravity or both",
               "fill in volume or gravity, or take the row out")  # fmt: skip


def _gravities(tables: Mapping[str, Table]) -> None:
    """A figure that can only be a specific gravity under the unit Plato: 1.048 degrees Plato is next to water."""
    import polars as pl

    for kind, name in (("brews", "kettle_gravity"), ("brews", "original_gravity"), ("readings", "gravity")):
        table = tables[kind]
        figure = table.typed[name].cast(pl.Float64)
        unit = table.typed["gravity_unit"].fill_null("plato")
        # Three decimals, or a wort: nobody reads a saccharometer to a thousandth, and no wort is so thin.
        looks = (figure >= 0.98) & (figure <= 1.2) & (table.text[name].str.contains(r"[.,]\d{3}") | (kind == "brews"))
        table.find((unit == "plato") & looks, "gravity-unit", name,
                   saying("looks like a specific gravity and is taken as degrees Plato"),
                   "a gravity in degrees Plato, or gravity_unit sg", "write sg under gravity_unit, if it is one")  # fmt: skip


def _temperatures(table: Table) -> None:
    """A figure that can only be degrees Celsius under the unit Fahrenheit: no kettle and no strike water is so cold.

    Below are readings taken cold, as the water came or after cooling; the lines are common practice, no source.
    """
    unit = table.typed["temp_unit"].fill_null("F")
    for name, cold in (("kettle_temp", 80), ("strike_temp", 70)):
        looks = (table.typed[name] > cold) & (table.typed[name] <= 101)
        table.find((unit == "F") & looks, "temperature-unit", name,
                   saying("looks like degrees Celsius and is taken as degrees Fahrenheit"),
                   "a temperature in degrees Fahrenheit, or temp_unit C", "write C under temp_unit, if it is one")  # fmt: skip


def _scales(table: Table) -> None:
    """A higher mark at which a vessel holds less, both in one unit."""
    import polars as pl

    if table.typed.height == 0:
        return
    before = pl.col("volume").shift().over("site", "vessel", "volume_unit", order_by="mark")
    falls = table.typed.select((pl.col("volume") < before).alias("falls"))["falls"]
    table.find(falls, "scale-falls", "volume", saying("is less than at a lower mark"),
               "more volume at a higher mark", "mend the mark or the volume")  # fmt: skip


def _areas(table: Table) -> None:
    place = table.typed["kind"].is_in(["own_location", "wholesaler", "retailer", "other"])
    table.find(place & table.text["area"].is_null(), "area-missing", "area", "area is blank",
               "a tax area as US-ME", "fill in area, so that state and city duty can be computed")  # fmt: skip


def lines_of_runs(tables: Mapping[str, Table]) -> None:
    """A blank line of a run is its order among the run's rows in that file and sheet."""
    import polars as pl

    for table in tables.values():
        for name, within in (table.kind.number_in or {}).items():
            rows = table.text.select("i", "of_file", "of_sheet", table.typed[within].str.to_lowercase().alias("within"))
            order = rows.select(pl.col("i").cum_count().over("within", "of_file", "of_sheet").cast(pl.Int64))["i"]
            blank = table.text[name].is_null()
            table.typed = table.typed.with_columns(
                pl.when(blank).then(order).otherwise(pl.col(name)).alias(name)
            )


def duplicates(table: Table) -> pl.Series:
    """The same document in two places: an error on each row.

    Returns:
        The numbers `i` of the rows that are set aside for it: all but the first that is otherwise in order.
    """
    import polars as pl

    key = table.kind.key
    # A row handed in for one that is in order stands for that one, and has been said to be one too many.
    idle = [frame.filter(pl.col("code") == "nothing-to-mend")["i"] for frame in table.findings]
    twice = _twice(table)
    for rows in idle:
        twice = twice.filter(~pl.col("i").is_in(rows.implode()))
    twice = twice.filter(pl.col("key").is_duplicated())
    if twice.height == 0:
        return pl.Series("i", [], dtype=table.text["i"].dtype)
    in_error = table.in_error()
    place = pl.format("{}{} row {}", "file", pl.format(" sheet {}", "sheet").fill_null(""), "row")
    twice = twice.with_columns(pl.col("i").is_in(in_error.implode()).alias("bad"), place.alias("place")).with_columns(
        pl.col("i").sort_by("bad", "i").first().over("key").alias("counts")
    )
    counting = twice.filter(pl.col("i") == pl.col("counts")).select("key", pl.col("place").alias("first_place"))
    other = twice.filter(pl.col("i") != pl.col("counts")).group_by("key").agg(
        pl.col("place").sort_by("i").first().alias("second_place")
    )
    twice = twice.join(counting, on="key").join(other, on="key")
    beside = table.text.select("i").join(twice, on="i", how="left", maintain_order="left")
    doubled = beside["counts"].is_not_null()
    first = beside["i"] == beside["counts"]
    beside = beside.select(
        pl.when(first).then(pl.col("second_place")).otherwise(pl.col("first_place")).alias("other_place"),
        pl.when(first).then(pl.lit("this one counts")).otherwise(pl.lit("that one counts")).alias("counting"),
    )
    name = "+".join(key)
    if len(key) > 1:
        shown = pl.concat_str([pl.col(part) for part in key], separator=" ", ignore_nulls=True)
        table.text = table.text.with_columns(shown.alias(name))
    table.find(doubled, "duplicate", name, pl.format("{} stands in {} too; {}", quoted(), "other_place", "counting"),
               "a document once", "take one of them out, or give it its own number", beside.get_columns())  # fmt: skip
    return table.text["i"].filter(doubled & ~first)


def identical(table: Table, accepted: pl.Series) -> None:
    """A row that is in every field like one before it.

    Args:
        accepted: true for the rows that are not set aside.
    """
    import polars as pl

    fields = table.kind.fields
    twice = _twice(table, table.text["i"].filter(accepted), [entry.name for entry in fields])
    place = pl.format("{}{} row {}", "file", pl.format(" sheet {}", "sheet").fill_null(""), "row")
    firsts = twice.with_columns(place.first().over("key").alias("first_place")).filter(~pl.col("key").is_first_distinct())
    beside = table.text.select("i").join(firsts, on="i", how="left", maintain_order="left")["first_place"]
    money = next(entry.name for entry in fields if entry.type == "money")
    table.find(beside.is_not_null(), "twice", money, pl.format("the row is in every field like {}; both count", "first_place"),
               "a row once", "take one of them out if it is the same paper", [beside])  # fmt: skip


def _twice(table: Table, among: pl.Series | None = None, names: Sequence[str] | None = None) -> pl.DataFrame:
    """The rows that are alike in the fields `names` (none given: in those that number a document) to a row in another
    place: i, file, sheet, row and key."""
    import polars as pl

    names = table.kind.key if names is None else names
    needed = [name for name in names if table.kind.field(name).required]
    if not names or table.text.height == 0:
        return table.typed.head(0).select("i", "file", "sheet", "row", pl.lit("").alias("key"))
    parts = [pl.col(name).cast(pl.String).str.to_lowercase().fill_null("") for name in names]
    keyed = table.typed.select("i", "file", "sheet", "row", pl.concat_str(parts, separator="\x1f").alias("key"),
                               *(pl.col(name).is_null().alias(f"no_{name}") for name in needed))  # fmt: skip
    if needed:
        keyed = keyed.filter(~pl.any_horizontal(pl.col(f"no_{name}") for name in needed))
    if among is not None:
        keyed = keyed.filter(pl.col("i").is_in(among.implode()))
    return keyed.filter(pl.col("key").is_duplicated()).rechunk()


def standing_twice(table: Table, among: pl.Series) -> pl.Series:
    """The numbers `i` of the rows whose document stands in another place too, of the rows `among` (numbers of `i`)."""
    return _twice(table, among)["i"]


def runs_of_one_day(table: Table, in_error: pl.Series) -> None:
    """One run has one date, one site: rows unlike the run's first row in order are set aside."""
    import polars as pl

    if table.text.height == 0:
        return
    said = pl.col("first").cast(pl.String)
    rows = table.typed.filter(pl.col("run").is_not_null() & ~pl.col("i").is_in(in_error.implode()))
    for name in ("date", "site"):
        first = pl.col(name).sort_by("i").first().over("run")
        unlike = rows.with_columns(first.alias("first")).filter(pl.col(name) != pl.col("first")).select("i", "first")
        beside = table.text.select("i").join(unlike, on="i", how="left", maintain_order="left")["first"]
        table.find(
            beside.is_not_null(), "run-differs", name,
            pl.format("{} differs from {} in the first line of run `{}`", quoted(), said, "run"),
            said, "mend it, or give the line a run of its own", [beside],
        )  # fmt: skip
