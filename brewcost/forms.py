"""The blank log workbook: a sheet for every kind of record, made from kinds.toml, to type into or to print and fill."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost.form_lists import add_lists, sort_of
from brewcost.form_words import GROUPS, USING, choices, comment, footer, refusal
from brewcost.kinds import Field, Kind, dictionary
from brewcost.trouble import replacing

if TYPE_CHECKING:
    import duckdb
    from openpyxl import Workbook

LAST_ROW = 1_048_576
EXAMPLE = "example:\n"
# Letter paper on its side, half an inch of margin: what a line and a column of it hold.
PAGE_WIDTH_PT, PAGE_HEIGHT_PT = 720.0, 482.0
CHARACTER_PT = 5.45
LINE_PT = 18.5  # a ruled line for a pencil, on paper
HEADING_PT, EXAMPLE_PT = 30.0, 32.0
DARK, PALE, RULE, WHITE = "1F3B4D", "DCE6EC", "8C9AA3", "FFFFFF"
FACE = "Calibri"
LONG_NAMES = ("beers", "materials", "accounts")  # names that take a pencil more room than a number does
NEWEST = 300  # numbers of brews, runs and documents are offered from the newest on, so many

# Where each sort of name stands in the books: those still of use first.
_KNOWN = {
    "sites": "select site from reference.sites order by site",
    "pools": "select distinct pool from reference.pools order by pool",
    "areas": "select area from reference.areas order by area",
    "beers": "select beer from record.beers order by beer",
    "materials": "select material from record.materials order by material",
    "packages": "select package from record.packages order by ready_made, package",
    "vessels": "select vessel from record.vessels order by site, vessel",
    "accounts": "select account from record.accounts order by account",
    "lots": "select lot from volume.lots where emptied_on is null order by opened_on desc, lot limit $newest",
    "brews": "select brew from record.brews order by date desc, brew desc limit $newest",
    "runs": "select run from record.packaging group by run order by max(date) desc, run desc limit $newest",
    "receipt_documents": "select document from record.receipts where document is not null "
    "group by document order by max(date) desc, document desc limit $newest",
    "shipment_documents": "select document from record.shipments "
    "group by document order by max(date) desc, document desc limit $newest",
}


def known_names(con: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
    """The names in a computed database, by sort (beers, lots, sites ...), for the drop-downs.

    Lots are those with beer in them; of brews, runs and documents the newest.
    """
    found: dict[str, list[str]] = {}
    for sort, query in _KNOWN.items():
        parameters = {"newest": NEWEST} if "$newest" in query else None
        found[sort] = [name for (name,) in con.execute(query, parameters).fetchall()]
    return found


def write_log(path: Path, known: Mapping[str, Sequence[str]] | None) -> None:
    """Write the blank log workbook; what stood at the path is replaced in one step.

    Args:
        path: the .xlsx file; its folder exists.
        known: names by sort, offered in the drop-downs beside those written on the workbook's own sheets.

    Raises:
        OSError: it cannot be written, or is open in another program.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.properties.title, book.properties.creator = "Brewery log", "brewcost"
    _notes(book)
    kinds = dictionary().kinds
    sheets = {name: book.create_sheet(name) for group in GROUPS for name in group.kinds}
    lists = add_lists(book, known or {})
    for group in GROUPS:
        for name in group.kinds:
            sheets[name].sheet_properties.tabColor = group.colour
            _sheet(sheets[name], kinds[name], lists)
    with replacing(path) as unfinished:
        book.save(unfinished)


def _sheet(ws: Any, kind: Kind, lists: Mapping[str, str]) -> None:
    """One kind's sheet: headings, the example row, ruled lines, what each column takes, how it prints."""
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill

    widths = _widths(kind)
    scale = min(1.0, PAGE_WIDTH_PT / (sum(widths) * CHARACTER_PT))
    line = round(LINE_PT / scale, 1)
    lines = int((PAGE_HEIGHT_PT / scale - HEADING_PT - EXAMPLE_PT) // line)
    for number, (field, width) in enumerate(zip(kind.fields, widths, strict=True), start=1):
        letter = _letter(number)
        column = ws.column_dimensions[letter]
        column.width = width
        column.number_format = _format(field)
        column.alignment = _alignment(field)
        heading = ws.cell(1, number, field.name)
        ink, ground = (WHITE, DARK) if field.required else (DARK, PALE)
        heading.font = Font(FACE, bold=field.required, italic=not field.required, color=ink)
        heading.fill = PatternFill("solid", fgColor=ground)
        heading.alignment = Alignment("left", "center", indent=1)
        heading.border = _ruled()
        # The cell holds the column's name alone; the star is how it is shown.
        heading.number_format = '@"*"' if field.required else "@"
        said = comment(kind, field)
        heading.comment = Comment(said, "brewcost", width=300, height=30 + 17 * _lines(said, 44))
        _example(ws.cell(2, number), field, first=number == 1)
        for row in range(3, lines + 3):
            cell = ws.cell(row, number)
            cell.number_format, cell.alignment, cell.border = _format(field), _alignment(field), _ruled()
        rule = _validation(kind, field, letter, lists)
        if rule is not None:
            ws.add_data_validation(rule)
            rule.add(f"{letter}2:{letter}{LAST_ROW}")
    ws.row_dimensions[1].height = HEADING_PT
    ws.row_dimensions[2].height = EXAMPLE_PT
    for row in range(3, lines + 3):
        ws.row_dimensions[row].height = line
    ws.freeze_panes = "B2"
    ws.sheet_view.showGridLines = True
    _print(ws, kind)


def _example(cell: Any, field: Field, first: bool) -> None:
    """A cell of the invented example row; the loader passes over the row as it stands here."""
    from openpyxl.styles import Alignment, Font, PatternFill

    text = field.example
    if first:
        cell.value = EXAMPLE + text
    elif text and field.type == "date":
        cell.value = date.fromisoformat(text)
    elif text and field.is_number:
        cell.value = float(text)
    elif text:
        cell.value = text
    cell.number_format = "@" if first else _format(field)
    cell.font = Font(FACE, italic=True, color="505050")
    cell.fill = PatternFill("solid", fgColor="F2F2F2")
    cell.alignment = Alignment("left", "center", wrap_text=True, indent=1) if first else _alignment(field)
    cell.border = _ruled()


def _format(field: Field) -> str:
    """How a cell of the column is formatted; names and months are text, so that leading zeros and 2026-03 stay."""
    return {"date": "yyyy-mm-dd", "number": "General", "money": "#,##0.00", "whole": "0"}.get(field.type, "@")


def _alignment(field: Field) -> Any:
    from openpyxl.styles import Alignment

    return Alignment("right", "center") if field.is_number else Alignment("left", "center", indent=1)


def _ruled() -> Any:
    from openpyxl.styles import Border, Side

    side = Side(style="thin", color=RULE)
    return Border(left=side, right=side, top=side, bottom=side)


def _widths(kind: Kind) -> list[float]:
    """Widths in characters: room for the heading, the example and a pencil; few columns spread over the page."""
    widths = []
    for number, field in enumerate(kind.fields):
        shown = max(map(len, EXAMPLE.split() + field.example.split())) if number == 0 else len(field.example)
        roomy = 16 if field.of in LONG_NAMES else {"date": 12, "text": 10, "name": 10, "money": 10}.get(field.type, 7)
        longest = max((len(choice) for choice in field.choices), default=0)
        heading = len(field.name) * (1.0 if field.required else 0.88) + 3
        widths.append(max(roomy, heading, min(shown, 24) + 3, min(longest, 16) + 3))
    spare = PAGE_WIDTH_PT / CHARACTER_PT / sum(widths)
    return [round(width * min(max(1.0, spare), 2.0), 1) for width in widths]


def _validation(kind: Kind, field: Field, letter: str, lists: Mapping[str, str]) -> Any | None:
    """What a column's cells take. A warning, never a wall: the loader has the last word, and says why."""
    from openpyxl.worksheet.datavalidation import DataValidation

    rule: dict[str, Any]
    sort = sort_of(field)
    closed = choices(field)
    if closed:
        rule = {"type": "list", "formula1": '"' + ",".join(closed) + '"'}
    elif sort:
        rule = {"type": "list", "formula1": lists[sort]}
    elif field.type == "date":
        rule = {"type": "date", "operator": "between", "formula1": "DATE(1990,1,1)", "formula2": "DATE(2099,12,31)"}
    elif field.type == "month":
        rule = {"type": "custom", "formula1": f'AND(LEN({letter}2)=7,MID({letter}2,5,1)="-",'
                f'ISNUMBER(VALUE(LEFT({letter}2,4))),ISNUMBER(VALUE(RIGHT({letter}2,2))))'}  # fmt: skip
    elif field.is_number:
        rule = {"type": "whole" if field.type == "whole" else "decimal", **_limits(field)}
    else:
        return None
    title, text = refusal(kind, field)
    # An area without a file of its own is as good a name as any: nothing to warn of.
    return DataValidation(**rule, allow_blank=True, errorStyle="warning", showErrorMessage=field.type != "area",
                          errorTitle=title, error=text)  # fmt: skip


def _limits(field: Field) -> dict[str, str]:
    if field.above is not None:
        return {"operator": "greaterThan", "formula1": f"{field.above}"}
    least = f"-{field.limit}" if field.signed else f"{field.least or 0}"
    return {"operator": "between", "formula1": least, "formula2": f"{field.limit}"}


def _print(ws: Any, kind: Kind) -> None:
    """On its side, one page wide, headings on every page; the foot says what a comment says on the screen."""
    ws.page_setup.orientation = "landscape"
    ws.page_setup.paperSize = ws.PAPERSIZE_LETTER
    ws.sheet_properties.pageSetUpPr.fitToPage = True
    ws.page_setup.fitToWidth, ws.page_setup.fitToHeight = 1, 0
    ws.print_title_rows = "1:1"
    ws.page_margins.left = ws.page_margins.right = 0.5
    ws.page_margins.top, ws.page_margins.bottom = 0.8, 0.9
    ws.page_margins.header, ws.page_margins.footer = 0.4, 0.35
    ws.HeaderFooter.scaleWithDoc = False
    ws.oddHeader.left.text = f"&B{kind.name}&B   {kind.meaning}".replace(" & ", " && ")
    ws.oddHeader.right.text = "written by ______________   page &P"
    ws.oddFooter.left.text = "   ".join(footer(kind))


def _notes(book: Workbook) -> None:
    """The first sheet: how to use the workbook, and what every other sheet is for. The loader passes over it."""
    from openpyxl.styles import Alignment, Font

    ws = book.active
    assert ws is not None
    ws.title = "notes"
    ws.column_dimensions["A"].width, ws.column_dimensions["B"].width = 22, 92
    row = 1
    ws.cell(row, 1, "The brewery's log").font = Font(FACE, bold=True, size=14)
    for text in USING:
        row += 1
        for part in textwrap.wrap(text, 125):
            ws.cell(row, 1, part)
            row += 1
    for group in GROUPS:
        row += 1
        ws.cell(row, 1, group.title).font = Font(FACE, bold=True, color=DARK, size=12)
        for name in group.kinds:
            row += 1
            link = ws.cell(row, 1, name)
            link.hyperlink = f"#{name}!A1"
            link.font = Font(FACE, color="0B5394", underline="single")
            link.alignment = Alignment("left", "top", indent=1)
            ws.cell(row, 2, dictionary().kinds[name].meaning).alignment = Alignment("left", "top", wrap_text=True)
            ws.row_dimensions[row].height = 15.5 * _lines(dictionary().kinds[name].meaning, 115)
        row += 1
    ws.sheet_view.showGridLines = False
    ws.page_setup.paperSize = ws.PAPERSIZE_LETTER
    ws.sheet_properties.pageSetUpPr.fitToPage = True
    ws.page_setup.fitToWidth, ws.page_setup.fitToHeight = 1, 1


def _lines(text: str, width: int) -> int:
    return sum(math.ceil(max(1, len(part)) / width) for part in text.split("\n"))


def _letter(number: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(number))
