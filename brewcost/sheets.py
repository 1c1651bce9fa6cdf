"""What stands in a workbook - sheets, tables, columns, charts - and how wide its columns are; no openpyxl."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

FORMATS = {
    "text": "@",
    "money": "#,##0.00",
    "bbl": "#,##0.00",
    "bbl5": "#,##0.00000",
    "qty": "#,##0.00",
    "rate": "#,##0.00####",
    "per unit": "#,##0.0000",
    "units": "#,##0",
    "whole": "0",
    "tenths": "#,##0.0",
    "pct": "0.0",
    "date": "yyyy-mm-dd",
}
LEFT = ("text", "date")  # kinds that stand on the left
WIDEST, NARROWEST, LINE_WIDTH = 44, 8.0, 95  # of columns and of a sheet, in digits, as spreadsheet programs measure
BOLD = 1.1  # a bold letter's width in digits
LETTERS, CELL_LETTERS = 1.2, 1.1  # letters of running text, and of a cell, to the width of a digit
BUTTON = 3  # the width of a filter button in digits
ROW_CM = 0.529
# What a letter page across holds at full size, with margins as in write_workbook.py: ten inches of 96 / 7 digits, by seven.
PAGE_DIGITS, PAGE_ROWS, DIGITS_A_CM = 137, 33, 5.2

Value = str | int | bool | Decimal | date | None


@dataclass(frozen=True)
class Total:
    """How a column is totalled: a function, and the headings it takes (none: its own, or some that are not shown)."""

    function: str  # sum, whole_sum, root_sum_square, per..., percent...
    headings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Column:
    """One column: its heading with the unit in it, and a key of FORMATS (`by row`: the table's `row_kinds`)."""

    heading: str
    kind: str = "text"
    total: Total | None = None
    strong: tuple[str, ...] = ()  # words that stand in bold


@dataclass(frozen=True)
class Chart:
    """A native chart of columns of the table it belongs to, named by heading."""

    # column, bar, stacked, stacked_bar, line, waterfall, waterfall_bar (the first values carry the bars and are not drawn),
    # interval (points with bounds)
    kind: str
    title: str
    category: str
    values: tuple[str, ...]
    axis: str  # title of the value axis, with its unit
    category_axis: str = ""
    bounds: tuple[str, ...] = ()  # of an interval: how far it reaches up and down from the point
    marked: str = ""  # the values of an interval whose points stand out
    place: str = "below"  # or right
    width_cm: float = 17.0
    height_cm: float = 8.0


@dataclass(frozen=True)
class Table:
    """A native Excel table: rows of values in the order of the columns."""

    name: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[Value]]
    title: str = ""
    totals: Sequence[Value] | None = None
    live: bool = False  # a row of formulas under the totals, for ticking
    empty: str = "none"
    row_kinds: Sequence[str] = ()
    notes: tuple[str, ...] = ()
    charts: tuple[Chart, ...] = ()
    new_page: bool = False  # begins a page of its own in print


@dataclass(frozen=True)
class Sheet:
    """One sheet: lines of text, tables one under the other, notes."""

    name: str
    title: str
    lines: tuple[tuple[str, bool], ...] = ()  # text, in bold
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()
    frozen: bool = True


@dataclass(frozen=True)
class Workbook:
    """A workbook and what its pages say at top and bottom."""

    title: str
    subject: str
    sheets: tuple[Sheet, ...]
    stamp: datetime = field(default_factory=lambda: datetime(2000, 1, 1))
    program: str = "brewcost"


def _shown(value: Value, kind: str) -> str:
    """About what the cell will show, to know how wide it is."""
    if value is None or isinstance(value, bool):
        return "yes"
    if isinstance(value, str):
        return value
    if isinstance(value, date):
        return "2026-12-31"
    places = {"bbl5": 5, "units": 0, "whole": 0, "tenths": 1, "pct": 1, "rate": 4, "per unit": 4}.get(kind, 2)
    return f"{value:,.{places}f}"


def line_width(sheet: Sheet, widths: Sequence[float]) -> int:
    """How many characters a line of text may have without making the printed page wider."""
    return int(LETTERS * max(LINE_WIDTH, _width(sheet, widths, "right")))


def _width(sheet: Sheet, widths: Sequence[float], *places: str) -> float:
    """How wide the sheet is in digits, with the charts that stand in these places of its tables."""
    charts = [chart.width_cm * DIGITS_A_CM + (sum(widths[: len(table.columns)]) if chart.place == "right" else 0)
              for table in sheet.tables for chart in table.charts if chart.place in places]  # fmt: skip
    return max([sum(widths), *charts])


def page_rows(sheet: Sheet, widths: Sequence[float]) -> int:
    """About how many rows a printed page holds: a sheet is made as narrow as the page, and shorter with it."""
    scale = min(1.0, PAGE_DIGITS / _width(sheet, widths, "right", "below"))
    return int(PAGE_ROWS / scale)


def chart_rows(chart: Chart) -> int:
    """The rows a chart covers."""
    return math.ceil(chart.height_cm / ROW_CM) + 1


def rows_of(sheet: Sheet, table: Table, widths: Sequence[float]) -> int:
    """The rows a table takes with its title, headings, totals, notes and charts."""
    totals = 0 if table.totals is None or not table.rows else 2 if table.live else 1
    rows = max(len(table.rows), 1) + bool(table.title) + heading_lines(sheet, table, widths) + totals + len(table.notes)
    below = [chart_rows(chart) + 1 for chart in table.charts if chart.place != "right" and table.rows]
    beside = [chart_rows(chart) for chart in table.charts if chart.place == "right" and table.rows]
    return max(rows + sum(below), sum(beside))


def lines_of(text: str, width: float) -> int:
    """How many lines a text takes in a column of a width."""
    if len(text) <= width and "\t" not in text:
        return 1
    return max(1, len(textwrap.wrap(text, max(1, int(width)), break_on_hyphens=False)))


def heading_lines(sheet: Sheet, table: Table, widths: Sequence[float]) -> int:
    """How many lines the table's headings take beside a filter button."""
    button = BUTTON if sheet.frozen else 0
    return max(
        lines_of(column.heading, width - button)
        for column, width in zip(table.columns, widths, strict=False)
    )


def _longest(values: Iterable[Value], kind: str) -> int:
    """The letters of the longest cell of a column; of its numbers the least or the greatest is the longest."""
    numbers: list[int | Decimal] = []
    longest = 0
    for value in values:
        if isinstance(value, (int, Decimal)) and not isinstance(value, bool):
            numbers.append(value)
        else:
            longest = max(longest, len(_shown(value, kind)))
    return max(longest, *(len(_shown(end(numbers), kind)) for end in (min, max))) if numbers else longest


def widths_of(sheet: Sheet) -> list[float]:
    """A width for each column of the sheet that suits every table on it."""
    widths = [NARROWEST] * max((len(table.columns) for table in sheet.tables), default=1)
    room = 1 + (BUTTON if sheet.frozen else 2)
    for table in sheet.tables:
        for number, column in enumerate(table.columns):
            longest_word = max(len(word) for word in column.heading.split())
            # A bold heading on two or three lines, with room for a filter button.
            widths[number] = max(widths[number], longest_word * BOLD + room, len(column.heading) / 2.4 + room)
            cells = [row[number] for row in table.rows] + ([table.totals[number]] if table.totals is not None else [])
            widths[number] = max(widths[number], min(WIDEST, _longest(cells, column.kind) * 1.05 + 2))
    return [round(width, 1) for width in widths]
