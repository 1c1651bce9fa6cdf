"""Workbooks: sheets of native Excel tables with number formats, headings, print set-up, notes and charts.

It knows openpyxl and nothing of brewing; `report.py` says what stands in a workbook. No merged cells, no colour as the
only signal, text always stays text, and the same content gives the same bytes.
"""

from __future__ import annotations

import gc
import re
import tempfile
import textwrap
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from brewcost.plain_text import FORMULA_STARTS
from brewcost.sheets import (
    CELL_LETTERS,
    FORMATS,
    LEFT,
    Sheet,
    Table,
    Total,
    Value,
    Workbook,
    chart_rows,
    heading_lines,
    line_width,
    lines_of,
    page_rows,
    rows_of,
    widths_of,
)
from brewcost.trouble import about, replacing, told

INK, RULE, HEADING_FILL = "2B2B2B", "8C8577", "E9E4DA"
ROW_POINTS = 15.0
SQUEEZED = 1.3  # times the rows of a page: squeezed onto it rather than spilt onto a second
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


@dataclass(frozen=True)
class Written:
    """One workbook of a month: where it is, or why it could not be written."""

    name: str
    path: Path | None
    message: str = ""

    @classmethod
    def failed(cls, name: str, error: OSError) -> Written:
        """One that a user can do something about; anything else is raised again."""
        message = told(error)
        if message is None:
            raise error
        return cls(name, None, f"{name} was not written: {message}")


class Align(NamedTuple):
    """Where a value stands in its cell."""

    horizontal: str | None = None
    vertical: str | None = None
    indent: int = 0
    wrap: bool = False


class Look(NamedTuple):
    """All that a cell looks like, by the names that `_Looks` knows."""

    font: str
    align: Align | None = None
    frame: str = ""  # heading, total, or none
    number_format: str = "General"
    quoted: bool = False


def write(workbook: Workbook, path: Path) -> None:
    """Write a workbook under a temporary name and rename it, so that a half-written one is never seen.

    Args:
        workbook: what stands in it.
        path: the .xlsx file; its folder must exist.

    Raises:
        OSError: the file cannot be written, or is open in a program that locks it; nothing is changed.
    """
    with _little_garbage(), about(Path(tempfile.gettempdir())):  # openpyxl writes each sheet there first
        made = _made(workbook)
    with replacing(path) as part:
        part.write_bytes(_stamped(made, workbook.stamp))


@contextmanager
def _little_garbage() -> Iterator[None]:
    """Cells are many objects and none of them garbage: looking for it among them takes an eighth of the time."""
    usual = gc.get_threshold()
    gc.set_threshold(100_000, 20, 20)
    try:
        yield
    finally:
        gc.set_threshold(*usual)


def _made(workbook: Workbook) -> BytesIO:
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    book.properties.title, book.properties.subject = workbook.title, workbook.subject
    book.properties.creator = workbook.program
    book.properties.created = workbook.stamp
    book.calculation.fullCalcOnLoad = True
    looks = _Looks()
    for sheet in workbook.sheets:
        _Page(book.create_sheet(sheet.name), sheet, workbook, looks).draw()
    made = BytesIO()
    book.save(made)
    return made


def _stamped(made: BytesIO, stamp: datetime) -> bytes:
    """The same package with the moment of writing taken out of it."""
    fixed = BytesIO()
    moment = stamp.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(fixed, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + moment, content)
            new.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
    return fixed.getvalue()


class _Looks:
    """The looks of one workbook's cells, each worked out once: openpyxl takes longer over a style than over a figure.

    Cells that look alike share one style, so a cell is given another look, never changed in its style.
    """

    def __init__(self) -> None:
        from openpyxl.styles import Border, Font, PatternFill, Side

        self.fonts = {
            "plain": Font(name="Calibri", size=11, color=INK),
            "bold": Font(name="Calibri", size=11, color=INK, bold=True),
            "large": Font(name="Calibri", size=16, color=INK, bold=True),
            "small": Font(name="Calibri", size=10, color=INK),
            "italic": Font(name="Calibri", size=10, color=INK, italic=True),
        }
        line = Side("thin", color=RULE)
        self.borders = {"heading": Border(bottom=line), "total": Border(top=line)}
        self.fill = PatternFill("solid", fgColor=HEADING_FILL)
        self.made: dict[Look, Any] = {}

    def give(self, cell: Any, look: Look) -> None:
        made = self.made.get(look)
        if made is None:
            self._make(cell, look)
            self.made[look] = cell._style
        else:
            cell._style = made

    def _make(self, cell: Any, look: Look) -> None:
        from openpyxl.styles import Alignment
        from openpyxl.styles.cell_style import StyleArray

        cell._style = StyleArray()  # its own may be another's too
        cell.font = self.fonts[look.font]
        if look.align:
            horizontal, vertical, indent, wrap = look.align
            cell.alignment = Alignment(horizontal, vertical, indent=indent, wrap_text=wrap)
        if look.frame:
            cell.border = self.borders[look.frame]
        if look.frame == "heading":
            cell.fill = self.fill
        cell.number_format = look.number_format
        cell.quotePrefix = look.quoted


class _Page:
    """One sheet being drawn from top to bottom."""

    def __init__(self, ws: Any, sheet: Sheet, workbook: Workbook, looks: _Looks) -> None:
        self.ws, self.sheet, self.workbook, self.looks = ws, sheet, workbook, looks
        self.row = 1
        self.widths = widths_of(sheet)
        self.line_width = line_width(sheet, self.widths)
        # A filter button would cover the end of a heading on the right.
        self.head_right = Align("right", "bottom", indent=2 if sheet.frozen else 0, wrap=True)
        self.paged = any(table.new_page for table in sheet.tables)
        self.page_rows = page_rows(sheet, self.widths)
        self.breaks: list[int] = []
        self.floor, self.beside = 1, 10_000  # where charts on the right end, and the column they begin in

    def draw(self) -> None:
        self.say(self.sheet.title, "large")
        self.ws.row_dimensions[1].height = 24
        for text, strong in self.sheet.lines:
            self.say(text, "bold" if strong else "plain")
        page_start = 1
        for index, table in enumerate(self.sheet.tables):
            self.row = 1 + (max(self.row, self.floor) if table.new_page else self.row)
            # A table that the page has no room left for begins the next one.
            height = rows_of(self.sheet, table, self.widths)
            crossing = self.sheet.frozen and self.row + height > page_start + self.page_rows >= self.row
            if index and (table.new_page or (crossing and height <= self.page_rows)):
                self.breaks.append(self.row - 1)
                page_start = self.row
            heading_row = self.table(table)
            page_start += max(0, self.row - page_start) // self.page_rows * self.page_rows
            if index == 0 and self.sheet.frozen and not self.paged:
                self.ws.freeze_panes = self.ws.cell(heading_row + 1, 2)
                if len(self.sheet.tables) == 1:  # over another table they would be another's headings
                    self.ws.print_title_rows = f"{heading_row}:{heading_row}"
        self.row = max(self.row, self.floor)
        if self.sheet.notes:
            self.row += 1
            for note in self.sheet.notes:
                self.say(note, "small")
        for index, width in enumerate(self.widths, start=1):
            self.ws.column_dimensions[_letter(index)].width = width
        self.print_setup()

    def say(self, text: str, font: str) -> None:
        """Lines of text in the first column, free to run over the empty cells beside it."""
        for line in textwrap.wrap(text, self.line_width, break_long_words=False, break_on_hyphens=False):
            self.put(self.row, 1, line, "text", font)
            self.row += 1

    def put(
        self, row: int, column: int, value: Value, kind: str, font: str, align: Align | None = None, frame: str = ""
    ) -> Any:
        cell = self.ws.cell(row, column)
        number_format, quoted = "General", False
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, str) and value:
            cell.value = _UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", value)
            cell.data_type = "s"  # openpyxl would make a formula of text that starts with =
            number_format = FORMATS["text"]
            quoted = value.startswith(FORMULA_STARTS)  # and a spreadsheet program, of text that someone edits
        elif value not in (None, ""):
            cell.value = value
            number_format = FORMATS[kind] if kind != "text" else "General"
        self.looks.give(cell, Look(font, align, frame, number_format, quoted))
        return cell

    def table(self, table: Table) -> int:
        """One table with its title, totals, notes and charts; returns the row of its headings."""
        if len(table.columns) >= self.beside:
            self.row = max(self.row, self.floor)
        if table.title:
            self.say(table.title, "bold")
        heading_row = self.row
        for number, column in enumerate(table.columns, start=1):
            align = _left(number, "bottom", True) if column.kind in LEFT else self.head_right
            self.put(heading_row, number, column.heading, "text", "bold", align, "heading")
        self.ws.row_dimensions[heading_row].height = ROW_POINTS * heading_lines(self.sheet, table, self.widths)
        rows = table.rows or [[table.empty, *[None] * (len(table.columns) - 1)]]
        for offset, values in enumerate(rows, start=1):
            self.record(heading_row + offset, table, values, table.row_kinds[offset - 1] if table.row_kinds else "text")
        last = heading_row + len(rows)
        self.ws.add_table(_native(table, heading_row, last, buttons=self.sheet.frozen))
        self.row = last + 1
        if table.totals is not None and table.rows:
            self.totals(table, heading_row + 1, last)
        for note in table.notes:
            self.say(note, "small")
        self.charts(table, heading_row, last if table.rows else heading_row)
        return heading_row

    def record(self, row: int, table: Table, values: Sequence[Value], row_kind: str) -> None:
        lines = [
            lines_of(value, self.widths[number] * CELL_LETTERS) if isinstance(value, str) and table.rows else 1
            for number, value in enumerate(values)
        ]
        upright = "top" if max(lines) > 1 else "bottom"
        for number, (column, value) in enumerate(zip(table.columns, values, strict=True), start=1):
            kind = row_kind if column.kind == "by row" else column.kind
            font = "bold" if column.strong and value in column.strong else "plain"
            align = _left(number, upright, lines[number - 1] > 1) if column.kind in LEFT else Align(vertical=upright)
            self.put(row, number, value, kind, font, align)
        if max(lines) > 1:
            self.ws.row_dimensions[row].height = ROW_POINTS * max(lines)

    def totals(self, table: Table, first: int, last: int) -> None:
        """The totals as values and, where a reader would tick them, a row of formulas that must show the same."""
        assert table.totals is not None
        for number, value in enumerate(table.totals, start=1):
            shown = "total" if number == 1 else value
            kind = table.columns[number - 1].kind
            self.put(self.row, number, shown, kind, "bold", _left(number) if kind in LEFT else None, "total")
        self.row += 1
        if not table.live:
            return
        letters = {column.heading: _letter(number) for number, column in enumerate(table.columns, start=1)}
        for number, (column, value) in enumerate(zip(table.columns, table.totals, strict=True), start=1):
            cell = self.put(self.row, number, "total by formula" if number == 1 else None, "text", "italic")
            if number > 1 and column.total is not None and value is not None:
                cell.value = _formula(column.total, letters[column.heading], letters, first, last, self.row)
                self.looks.give(cell, Look("italic", number_format=FORMATS[column.kind]))
        self.row += 1

    def charts(self, table: Table, heading_row: int, last: int) -> None:
        from brewcost.charts import draw

        right_row = heading_row
        for chart in table.charts if last > heading_row else ():
            drawing = draw(self.ws, chart, [column.heading for column in table.columns], heading_row, last)
            rows = chart_rows(chart)
            if chart.place == "right":
                self.beside = len(table.columns) + 2
                drawing.anchor = f"{_letter(self.beside)}{right_row}"
                right_row += rows
                self.floor = right_row
            else:
                drawing.anchor = f"A{self.row + 1}"
                self.row += rows + 1
            self.ws.add_chart(drawing)

    def print_setup(self) -> None:
        from openpyxl.worksheet.pagebreak import Break

        ws = self.ws
        ws.sheet_view.showGridLines = False
        ws.page_setup.orientation = "landscape"
        ws.page_setup.paperSize = ws.PAPERSIZE_LETTER
        ws.page_setup.fitToWidth = 1
        whole = not self.paged and (self.row <= SQUEEZED * self.page_rows or not self.sheet.frozen)
        ws.page_setup.fitToHeight = 1 if whole else 0
        for row in () if whole else self.breaks:
            ws.row_breaks.append(Break(id=row))
        ws.sheet_properties.pageSetUpPr.fitToPage = True
        ws.page_margins.left = ws.page_margins.right = 0.5
        ws.page_margins.top = ws.page_margins.bottom = 0.75
        ws.oddHeader.left.text = _printed(self.workbook.subject)
        ws.oddHeader.right.text = _printed(self.workbook.title)
        ws.oddFooter.left.text = _printed(self.workbook.program)
        ws.oddFooter.center.text = _printed(self.sheet.name)
        ws.oddFooter.right.text = "Page &P of &N"


def _native(table: Table, heading_row: int, last: int, buttons: bool) -> Any:
    """The Excel table itself; with filter buttons, or as plain headings where it is short."""
    from openpyxl.worksheet.filters import AutoFilter
    from openpyxl.worksheet.table import Table as NativeTable
    from openpyxl.worksheet.table import TableColumn, TableStyleInfo

    ref = f"A{heading_row}:{_letter(len(table.columns))}{last}"
    return NativeTable(
        displayName=table.name,
        ref=ref,
        tableColumns=[TableColumn(id=id, name=column.heading) for id, column in enumerate(table.columns, start=1)],
        autoFilter=AutoFilter(ref=ref) if buttons else None,
        tableStyleInfo=TableStyleInfo(name="TableStyleLight1", showRowStripes=last - heading_row > 3),
    )


def _left(number: int, vertical: str = "bottom", wrap: bool = False) -> Align:
    """To the left; text that follows a number stands a little off it."""
    return Align("left", vertical, indent=0 if number == 1 else 1, wrap=wrap)


def _printed(text: str) -> str:
    """Text for a page header, where & opens a code and 255 characters are all there is room for."""
    return text[:70].replace("&", "&&")


def _letter(number: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(number))


def _formula(total: Total, own: str, letters: dict[str, str], first: int, last: int, row: int) -> str | None:
    if total.function == "root_sum_square":
        return f"=SQRT(SUMSQ({own}{first}:{own}{last}))"
    if total.function.startswith(("per_", "percent_")):
        if not total.headings:
            return None
        above, below = (letters[heading] for heading in total.headings)
        factor = "100*" if total.function.startswith("percent_") else ""
        return f'=IF({below}{row}=0,"",{factor}{above}{row}/{below}{row})'
    return f"=SUBTOTAL(109,{own}{first}:{own}{last})"
