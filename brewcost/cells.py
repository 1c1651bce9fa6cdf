"""Text cells to typed columns, kind by kind, whole columns at a time; what does not fit becomes a finding."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any

from brewcost.kinds import Field, Kind, dictionary
from brewcost.problems import CODES, ERROR

if TYPE_CHECKING:
    import polars as pl

# A date past this many years from the start of the books is a slip of the pen, and would make months without end.
LONGEST_BOOKS = 30
_NUMBER = {
    "1,234.56": (r"^[+-]?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d*)?$|^[+-]?\.\d+$", ",", "."),
    "1.234,56": (r"^[+-]?(?:\d{1,3}(?:\.\d{3})+|\d+)(?:,\d*)?$|^[+-]?,\d+$", ".", ","),
}
_SHOWN_ERROR = r"^#(?:REF!|N/A|VALUE!|DIV/0!|NAME\?|NUM!|NULL!|NO RESULT)$"
_AREA = r"^([A-Z]{2}(?:-[A-Z0-9]{1,6}){0,3})$"
# Degrees Fahrenheit and Celsius between freezing and the boil. Plato and specific gravity of any wort or beer, the same
# range in both: from a dry beer, which alcohol makes lighter than water, to the strongest wort (common practice, no
# source). What one container holds: no package is a tank.
_RANGES = {"F": (32.0, 215.0), "C": (0.0, 101.7), "plato": (-5.0, 45.0), "sg": (0.98, 1.205)}
_CONTAINER = {"bbl": 10.0, "gal": 310.0, "hL": 12.0, "L": 1200.0, "imp_gal": 260.0, "floz": 40_000.0}
FINDING = ("i", "severity", "code", "field", "value", "expected", "message", "action", "depends_on")


@dataclass
class Table:
    """All rows of one kind.

    `text` holds i (0, 1 ... by file, sheet and row), file, sheet, row, aside (set aside whatever its cells say) and a
    text column a field; `typed` a typed column a field, null where the text does not fit. Both have the same rows.
    `findings` are frames with the columns of `FINDING`.
    """

    kind: Kind
    text: pl.DataFrame
    typed: pl.DataFrame
    findings: list[pl.DataFrame] = field(default_factory=list)

    def find(
        self,
        wrong: pl.Series,
        code: str,
        name: str,
        message: pl.Expr | str,
        expected: pl.Expr | str,
        action: pl.Expr | str,
        beside: Sequence[pl.Series] = (),
        depends_on: pl.Expr | None = None,
    ) -> None:
        """A finding for each row where `wrong` is true; texts may use `value`, the columns of `text` and `beside`.

        Args:
            depends_on: the place of the row that brought it about, where it is another one.
        """
        import polars as pl

        if not wrong.any():
            return
        # In one piece: pl.format panics on a text column in pieces of which one is empty (polars 2.1.0).
        rows = self.text.with_columns(beside).filter(wrong).rechunk()
        value = pl.col(name) if name in self.text.columns else pl.lit(None, pl.String)
        rows = rows.with_columns(value.alias("value"))
        self.findings.append(
            rows.select(
                "i",
                pl.lit(CODES[code].severity).alias("severity"),
                pl.lit(code).alias("code"),
                pl.lit(name).alias("field"),
                "value",
                _as_text(expected).alias("expected"),
                _as_text(message).alias("message"),
                _as_text(action).alias("action"),
                (pl.lit(None) if depends_on is None else depends_on).cast(pl.String).alias("depends_on"),
            )
        )

    def in_error(self) -> pl.Series:
        """The rows (numbers of `i`) with a finding of severity error, duplicates apart."""
        import polars as pl

        frames = [frame.filter((pl.col("severity") == ERROR) & (pl.col("code") != "duplicate")).select("i")
                  for frame in self.findings]  # fmt: skip
        return pl.concat([self.text.filter(pl.col("aside")).select("i"), *frames])["i"].unique()


def _as_text(text: pl.Expr | str) -> pl.Expr:
    import polars as pl

    return pl.lit(text) if isinstance(text, str) else text.cast(pl.String)


@cache
def quoted(column: str = "value") -> pl.Expr:
    """The value in quotation marks, cut where it is long."""
    import polars as pl

    long = pl.col(column).str.len_chars() > 60
    return pl.format('"{}"', pl.when(long).then(pl.col(column).str.slice(0, 57) + "...").otherwise(pl.col(column)))


@cache
def saying(words: str) -> pl.Expr:
    """A message that begins with the value in quotation marks."""
    return quoted() + (" " + words)


def typed_column_type(field: Field) -> Any:
    """The polars type of a field."""
    import polars as pl

    return {
        "date": pl.Date,
        "number": pl.Decimal(18, 6),
        "money": pl.Decimal(18, 6),
        "whole": pl.Int64,
        "flag": pl.Boolean,
    }.get(field.type, pl.String)


def read_cells(kind: Kind, text: pl.DataFrame, number_style: str, first_day: date) -> Table:
    """Type every column of a kind and check what a cell or its unit alone can say.

    Args:
        kind: the kind.
        text: as `Table.text`.
        number_style: `1,234.56` or `1.234,56`.
        first_day: the first day of the books.
    """
    import polars as pl

    places = ["i", "file", "sheet", "row"]
    table = Table(kind, text, text.select(places))
    if text.height == 0:
        empty = {entry.name: typed_column_type(entry) for entry in kind.fields}
        return Table(kind, text, table.typed.hstack(pl.DataFrame(schema=empty)))
    _shown_errors(table)
    # All columns at once: a call of polars takes longer than the few cells of most columns.
    typed = table.text.select(*places, *(
        pl.lit(None, typed_column_type(entry)).alias(entry.name)
        if table.text[entry.name].null_count() == text.height else _value(entry, number_style).alias(entry.name)
        for entry in kind.fields
    ))  # fmt: skip
    table.typed = typed.with_columns(
        _checked(table, entry, typed[entry.name], number_style, first_day) for entry in kind.fields
    )
    for entry in kind.fields:
        if entry.unit and dictionary().units_of(kind.field(entry.unit)) and entry.type == "number":
            _range_of_unit(table, entry)
        _blank_required(table, entry)
    _defaults(table)
    return table


def _shown_errors(table: Table) -> None:
    import polars as pl

    names = [entry.name for entry in table.kind.fields]
    for marked in table.text.select(pl.col(names).str.starts_with("#")):
        if marked.any():
            shown = table.text[marked.name].str.contains(_SHOWN_ERROR).fill_null(False)
            table.find(shown, "cell-error", shown.name, saying("is an error of the spreadsheet"), "a value",
                       "mend the formula, or write the value")  # fmt: skip
            # A space is no value, and is not reported as missing a second time.
            table.text = table.text.with_columns(table.text[shown.name].set(shown, " "))


def _value(entry: Field, number_style: str) -> pl.Expr:
    """What the text of a field says, null where it does not fit; a whole number with all the decimals it may have."""
    import polars as pl

    text = pl.col(entry.name)
    if entry.is_number:
        pattern, thousands, point = _NUMBER[number_style]
        plain = text.str.replace_all(thousands, "", literal=True).str.replace(point, ".", literal=True)
        # Digits past the twelfth decimal say nothing, and too many of them would not fit the type.
        plain = plain.str.replace(r"(\.\d{12})\d+$", "$1").str.strip_prefix("+")
        return pl.when(text.str.contains(pattern)).then(plain).cast(pl.Decimal(18, 6), strict=False)
    if entry.type == "date":
        day = text.str.extract(r"^(\d{4}-\d{2}-\d{2})(?:[ T]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)?$")
        return day.str.strptime(pl.Date, "%Y-%m-%d", strict=False)
    if entry.type == "month":
        # A spreadsheet makes the first day of the month of 2026-03.
        return text.str.extract(r"^(\d{4}-(?:0[1-9]|1[0-2]))(?:-01)?$")
    if entry.type == "flag":
        words = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
        return text.str.to_lowercase().replace_strict(words, default=None, return_dtype=pl.Boolean)
    if entry.type == "choice":
        word = text.str.to_lowercase().str.replace_all(" ", "_", literal=True)
        return pl.when(word.is_in(entry.choices)).then(word)
    if entry.type == "unit":
        allowed = {unit.casefold(): unit for unit in dictionary().units_of(entry)}
        return text.str.to_lowercase().replace_strict(allowed, default=None, return_dtype=pl.String)
    if entry.type == "area":
        return text.str.to_uppercase().str.extract(_AREA)
    return pl.when(text != " ").then(text)


def _checked(table: Table, entry: Field, value: pl.Series, number_style: str, first_day: date) -> pl.Series:
    """A typed column without what its field cannot hold; a finding for each cell that does not fit."""
    text = table.text[entry.name]
    if value.null_count() > text.null_count():
        _unread(table, entry, (text != " ") & value.is_null(), number_style)
    if entry.is_number:
        return _in_limits(table, entry, value, number_style)
    return _in_books(table, entry, value, first_day) if entry.type in ("date", "month") else value


def _unread(table: Table, entry: Field, wrong: pl.Series, number_style: str) -> None:
    """Findings about cells of which the text does not fit the type."""

    def say(code: str, words: str, expected: str, action: str, which: pl.Series = wrong) -> None:
        table.find(which, code, entry.name, saying(words), expected, action)

    if entry.is_number:
        text = table.text[entry.name]
        pattern, _, point = _NUMBER[number_style]
        fits, is_date = text.str.contains(pattern), text.str.contains(r"^\d{4}-\d{2}-\d{2}")
        example = "1250" if entry.type == "whole" else f"1250{point}50"
        say("not-a-number", "is a date, not a number", "a number", "write the number; format the cell as a number",
            wrong & ~fits & is_date)  # fmt: skip
        say("not-a-number", "is not a number", f"a {'whole ' if entry.type == 'whole' else ''}number, as {example}",
            f"write digits with one decimal {'point' if point == '.' else 'comma'}", wrong & ~fits & ~is_date)  # fmt: skip
        _too_large(table, entry, wrong & fits)
    elif entry.type == "date":
        say("not-a-date", "is not a date", "a date as 2026-03-14", "write year-month-day, as 2026-03-14")
    elif entry.type == "month":
        say("not-a-month", "is not a month", "a month as 2026-03", "write year-month, as 2026-03")
    elif entry.type == "flag":
        say("not-yes-or-no", "is neither yes nor no", "yes or no", "write yes or no")
    elif entry.type == "choice":
        listed = "one of " + ", ".join(entry.choices)
        say("not-a-choice", f"is no {entry.name.replace('_', ' ')}", listed, f"write {listed}")
    elif entry.type == "unit":
        _not_the_unit(table, entry, wrong)
    elif entry.type == "area":
        say("not-an-area", "is no tax area", "an area as US or US-ME",
            "write the country's two letters, a hyphen and the state's")  # fmt: skip


def _too_large(table: Table, entry: Field, wrong: pl.Series) -> None:
    code = "too-large" if entry.below is None else "out-of-range"
    table.find(wrong, code, entry.name, saying(f"is not below {entry.limit:,f}"), f"below {entry.limit:,f}",
               "mend the figure")  # fmt: skip


def _in_limits(table: Table, entry: Field, value: pl.Series, number_style: str) -> pl.Series:
    import polars as pl

    figure, limit = value.cast(pl.Float64), float(entry.limit)
    bad = (figure >= limit) | (figure <= -limit)
    _too_large(table, entry, bad)
    if not entry.signed:
        negative = value < 0
        table.find(negative, "negative", entry.name, saying("is negative"), "0 or more", "write it without a minus")
        bad = bad | negative
    if entry.type == "whole":
        pattern, _, point = _NUMBER[number_style]
        # As it was written; the thirteenth decimal says nothing.
        text = table.text[entry.name]
        broken = text.str.contains(re.escape(point) + r"\d{0,11}[1-9]") & text.str.contains(pattern)
        table.find(broken, "not-whole", entry.name, saying("is not a whole number"), "a whole number",
                   "write a whole number")  # fmt: skip
        bad = bad | broken
    for low, reached, words in ((entry.least, True, "at least"), (entry.above, False, "above")):
        if low is not None:
            short = ((value < low) if reached else (value <= low)) & ~bad
            table.find(short, "out-of-range", entry.name, saying(f"is not {words} {low}"), f"{words} {low}",
                       "mend the figure")  # fmt: skip
            bad = bad | short
    value = value.set(bad, None) if bad.any() else value
    return value.cast(pl.Int64) if entry.type == "whole" else value


def _in_books(table: Table, entry: Field, value: pl.Series, first_day: date) -> pl.Series:
    """Dates or months that lie in the years that books can have."""
    first, last = first_day.isoformat(), date(min(first_day.year + LONGEST_BOOKS, 9999), 12, 31).isoformat()
    if entry.type == "month":
        first, last = first[:7], last[:7]
        late, early = value > last, value < first
    else:
        late, early = value > date.fromisoformat(last), value < first_day
    table.find(late, "date-too-late", entry.name, saying("is too late"), f"a {entry.type} up to {last}", "mend the year")
    if not entry.before_books:
        table.find(early, "before-first-month", entry.name, saying("lies before the first month of the books"),
                   f"a {entry.type} from {first} on", f"mend the {entry.type}, or first_month in brewery.toml")  # fmt: skip
    return value.set(late, None) if late.any() else value


def _not_the_unit(table: Table, entry: Field, wrong: pl.Series) -> None:
    import polars as pl

    book = dictionary()
    listed = "one of " + ", ".join({unit.casefold(): unit for unit in book.units_of(entry)}.values())
    every = {unit.casefold(): family for family, units in book.units.items() for unit in units}
    family = table.text[entry.name].str.to_lowercase().replace_strict(every, default=None, return_dtype=pl.String)
    families = entry.family or "volume, weight or count"
    for other in book.units:
        table.find(wrong & (family == other), "unit-family", entry.name,
                   saying(f"is a unit of {other}, not of {families}"), listed, f"write {listed}")  # fmt: skip
    table.find(wrong & family.is_null(), "unknown-unit", entry.name, saying("is no unit"), listed, f"write {listed}")


def _range_of_unit(table: Table, entry: Field) -> None:
    """Temperatures, gravities and containers have their range in each unit."""
    import polars as pl

    assert entry.unit is not None
    unit_field = table.kind.field(entry.unit)
    if unit_field.family in ("temperature", "gravity"):
        ranges = _RANGES
    elif entry.name == "container_volume":
        ranges = {name: (0.0, most) for name, most in _CONTAINER.items()}
    else:
        return
    value = table.typed[entry.name].cast(pl.Float64)
    unit = table.typed[entry.unit].fill_null(unit_field.default or "")
    # A unit that is not known says nothing about the range.
    known = table.typed[entry.unit].is_not_null() | table.text[entry.unit].is_null()
    for name, (low, high) in ranges.items():
        if name in dictionary().units_of(unit_field):
            outside = (unit == name) & known & ((value < low) | (value > high))
            table.find(outside, "out-of-range", entry.name, saying(f"is not between {low:g} and {high:g} {name}"),
                       f"{low:g} to {high:g} {name}", f"mend the figure, or {entry.unit}")  # fmt: skip
            table.typed = table.typed.with_columns(
                pl.when(outside.fill_null(False)).then(None).otherwise(pl.col(entry.name)).alias(entry.name)
            )


def _blank_required(table: Table, entry: Field) -> None:
    flag = (table.kind.required_unless or {}).get(entry.name)
    if not (entry.required or flag) or table.text[entry.name].null_count() == 0:
        return
    blank = table.text[entry.name].is_null()
    said = table.text["absent"].list.contains(entry.name)  # the whole column is missing: said once for the file
    if entry.required:
        table.find(blank & ~said, "missing-value", entry.name, f"{entry.name} is blank", _wanted(entry),
                   f"fill in {entry.name}")  # fmt: skip
    if flag:
        unless = table.typed[flag].fill_null(False)
        table.find(blank & ~unless, "missing-value", entry.name, f"{entry.name} is blank", _wanted(entry),
                   f"fill in {entry.name}, or write yes under {flag}")  # fmt: skip


def _wanted(entry: Field) -> str:
    if entry.choices:
        return "one of " + ", ".join(entry.choices)
    shown = f", as {entry.example}" if entry.example else ""
    sort = {"date": "a date", "month": "a month", "number": "a number", "money": "an amount",
            "whole": "a whole number", "unit": "a unit", "area": "a tax area"}.get(entry.type, "a name")  # fmt: skip
    return sort + shown


def _defaults(table: Table) -> None:
    """What a blank means. A cell that was filled but does not fit stays null: its row is set aside anyway."""
    import polars as pl

    filled: list[pl.Expr] = []
    for entry in table.kind.fields:
        if entry.default is None:
            continue
        value: object = entry.default
        if entry.type == "flag":
            value = entry.default == "yes"
        default = pl.lit(value).cast(typed_column_type(entry))
        blank = table.text[entry.name].is_null()
        filled.append(pl.when(blank).then(default).otherwise(pl.col(entry.name)).alias(entry.name))
    table.typed = table.typed.with_columns(filled)


