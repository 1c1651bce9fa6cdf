"""Workbooks to text: what is looked at before one is opened, and its sheets as rows of cells."""

from __future__ import annotations

import html
import posixpath
import re
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost.kinds import dictionary
from brewcost.problems import found
from brewcost.text_rows import Intake, Unreadable, any_filled, headed, no_kind, trimmed

if TYPE_CHECKING:
    import polars as pl

# A million rows of ten columns unzip to about this much; csv has no such limit.
LARGEST_UNZIPPED = 150 * 1024 * 1024
# The engine lays a sheet out as a full rectangle: one stray cell in the far corner would take all memory.
MOST_CELLS = 40_000_000
# The engine's words for the errors a cell can show.
CELL_ERRORS = {"Ref": "#REF!", "NA": "#N/A", "Value": "#VALUE!", "Div0": "#DIV/0!", "Name": "#NAME?", "Num": "#NUM!",
               "Null": "#NULL!"}  # fmt: skip
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_CELL = re.compile(rb"<(?:\w+:)?c [^>]*?r=\"([A-Z]{1,3})\d")
_ROW = re.compile(rb"<(?:\w+:)?row [^>]*?r=\"(\d+)\"")
# A formula without its result, as programs write that do not compute; where the result is an empty text, its cell says `str`.
_NO_RESULT = re.compile(
    rb"<(?:\w+:)?c(?![^>]*? t=\"str\")(?: [^>]*)?>\s*<(?:\w+:)?f(?: [^>]*)?"
    rb"(?:/>|>[^<]*</(?:\w+:)?f>)\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v></(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_STYLED = re.compile(rb"<(?:\w+:)?c [^>]*?\bs=\"(\d+)\"[^>/]*>")  # a cell that holds something, by the number of its style
_TAG = re.compile(r"""<(?:\w+:)?(\w+)((?:\s+[\w:.-]+\s*=\s*(?:"[^"]*"|'[^']*'))*)\s*/?>""")
_ATTRIBUTE = re.compile(r"""(?:\w+:)?(\w+)\s*=\s*(["'])(.*?)\2""", re.DOTALL)


def read(path: Path, name: str, number_style: str) -> Intake:
    """Read every sheet of a workbook that is named after a kind of record; `notes` and `_...` are left out.

    Raises:
        Unreadable: it is no workbook, is damaged, protected or too large.
    """
    import fastexcel

    cell_by_cell = _look_at(path, name)
    point = number_style[-3]
    try:
        book = fastexcel.read_excel(path)
        names = list(book.sheet_names)
    except Exception as error:  # the engine has no common class for what a damaged file may raise
        raise _damaged(name, str(error)) from error
    intake = Intake()
    for sheet in names:
        called = sheet.strip()
        if called.casefold() == "notes" or called.startswith("_"):
            continue
        kind = dictionary().kind_of(called)
        try:
            if kind and (sheet in cell_by_cell or point == ","):
                frame, hidden = _typed_cells(path, sheet, point)
            else:
                frame, hidden = _cells(book, sheet, path, point)
        except Exception as error:
            raise _damaged(name, f"sheet {sheet}: {error}") from error
        if not any_filled(frame):
            if kind:
                intake.problems.append(found("empty-sheet", "this sheet holds nothing", file=name, sheet=sheet,
                                             expected="headings and records"))  # fmt: skip
        elif kind is None:
            intake.problems.append(no_kind(name, sheet, called, hidden))
        else:
            if hidden:
                intake.problems.append(found("hidden-sheet", "this sheet is hidden; its rows are read all the same",
                                             file=name, sheet=sheet, expected="a visible sheet",
                                             action="begin its name with _ if it is not meant"))  # fmt: skip
            intake.sheets.append(headed(name, sheet, kind, frame))
    return intake


def _damaged(name: str, why: str) -> Unreadable:
    return Unreadable(found("damaged-file", f"the workbook is damaged or was not copied whole ({why.strip()[:200]})",
                            file=name, expected="a whole .xlsx workbook",
                            action="open it, save it again and copy it anew"))  # fmt: skip


def _look_at(path: Path, name: str) -> set[str]:
    """Refuse what is no workbook or would fill the memory, before the engine opens it.

    Returns:
        The sheets that the engine does not read whole: with a formula without its result, or a percentage, which the engine
        gives as a number a hundredth of what is shown.
    """
    with path.open("rb") as file:
        head = file.read(4096)
    if head.startswith(_OLE):
        if b"E\0n\0c\0r\0y\0p\0t\0e\0d\0P\0a\0c\0k\0a\0g\0e" in path.read_bytes():
            raise Unreadable(found("password-protected", "the workbook opens only with a password", file=name,
                                   expected="a workbook without a password",
                                   action="save it without a password"))  # fmt: skip
        raise Unreadable(found("old-format", "this is an old .xls workbook under another name", file=name,
                               value=path.suffix, expected=".xlsx", action="open it and save it as .xlsx"))  # fmt: skip
    if not head.startswith(b"PK"):
        what = "a web page" if head.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"<") else "no workbook"
        raise Unreadable(found("not-a-workbook", f"this is {what} under the name of one", file=name,
                               value=path.suffix, expected="an .xlsx workbook",
                               action="open it in a spreadsheet program and save it as .xlsx"))  # fmt: skip
    try:
        with zipfile.ZipFile(path) as archive:
            _check_size(archive, name)
            return _check_sheets(archive, name)
    except (zipfile.BadZipFile, EOFError, OSError, NotImplementedError, RuntimeError) as error:
        raise _damaged(name, str(error)) from error


def _check_size(archive: zipfile.ZipFile, name: str) -> None:
    unzipped = sum(entry.file_size for entry in archive.infolist())
    if unzipped > LARGEST_UNZIPPED:
        raise Unreadable(found(
            "too-large-file", f"the workbook unzips to {unzipped // 1024**2} MB; "
            f"the limit is {LARGEST_UNZIPPED // 1024**2} MB", file=name, value=str(unzipped),
            expected=f"at most {LARGEST_UNZIPPED} bytes", action="save its sheets as csv files, which have no limit",
        ))  # fmt: skip
    if not any(entry.filename.startswith("xl/") for entry in archive.infolist()):
        raise Unreadable(found("not-a-workbook", "this is a zip file but no workbook", file=name,
                               expected="an .xlsx workbook",
                               action="open it in a spreadsheet program and save it as .xlsx"))  # fmt: skip


def _check_sheets(archive: zipfile.ZipFile, name: str) -> set[str]:
    percentages, parts = _percent_styles(archive), set[str]()
    for entry in archive.infolist():
        if not re.fullmatch(r"xl/worksheets/[^/]+\.xml", entry.filename):
            continue
        data = archive.read(entry)
        columns = max((_column(letters) for letters in set(_CELL.findall(data))), default=0)
        rows = max(map(int, _ROW.findall(data)), default=0)
        if columns * rows > MOST_CELLS:
            raise Unreadable(found(
                "too-large-file", f"a sheet spans {rows} rows and {columns} columns; the limit is {MOST_CELLS} cells",
                file=name, value=f"{rows} x {columns}", expected=f"at most {MOST_CELLS} cells",
                action="delete the rows and columns beyond the records, and save it again",
            ))  # fmt: skip
        if _NO_RESULT.search(data) or (percentages and not percentages.isdisjoint(_STYLED.findall(data))):
            parts.add(entry.filename)
    return {sheet for sheet, part in (_parts(archive).items() if parts else ()) if part in parts}


def _tags(archive: zipfile.ZipFile, part: str) -> list[tuple[str, dict[str, str]]]:
    """The tags of a small part of a workbook, in order, each with its attributes; none where there is no such part."""
    try:
        text = archive.read(part).decode("utf-8", "replace")
    except KeyError:
        return []
    return [(tag, {key: html.unescape(value) for key, _, value in _ATTRIBUTE.findall(attributes)})
            for tag, attributes in _TAG.findall(text)]  # fmt: skip


def _parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """The file in which each sheet lies, by the sheet's name."""
    targets = {of.get("Id"): posixpath.join("/xl", of.get("Target", "")).lstrip("/")
               for tag, of in _tags(archive, "xl/_rels/workbook.xml.rels") if tag == "Relationship"}  # fmt: skip
    sheets = [of for tag, of in _tags(archive, "xl/workbook.xml") if tag == "sheet"]
    return {of.get("name", ""): targets.get(of.get("id"), "") for of in sheets}


def _percent_styles(archive: zipfile.ZipFile) -> set[bytes]:
    """The numbers of the cell styles that show a percentage."""
    formats, styles, inside = {"9", "10"}, list[str](), False
    for tag, of in _tags(archive, "xl/styles.xml"):
        if tag == "numFmt" and _shows_percent(of.get("formatCode", "")):
            formats.add(of.get("numFmtId", ""))
        elif tag in ("cellXfs", "cellStyles"):
            inside = tag == "cellXfs"
        elif tag == "xf" and inside:
            styles.append(of.get("numFmtId", "0"))
    return {str(number).encode() for number, of_style in enumerate(styles) if of_style in formats}


def _shows_percent(number_format: str) -> bool:
    """Whether cells of the format show a hundred times what they hold: a percent sign, not as a text of its own."""
    return "%" in re.sub(r'"[^"]*"|\\.', "", number_format)


def _column(letters: bytes) -> int:
    """A is 1, AA is 27."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _cells(book: Any, sheet: str, path: Path, point: str) -> tuple[pl.DataFrame, bool]:
    """The cells of one sheet as trimmed text, and whether it is hidden."""
    import polars as pl

    try:
        loaded = book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
    except Exception:  # a cell that the engine does not know, a newer error of the spreadsheet for example
        return _typed_cells(path, sheet, point)
    batch, errors = loaded.to_arrow_with_errors()
    frame = pl.DataFrame(pl.from_arrow(batch))
    if errors is not None:
        for error in errors.errors:
            row, column = error.position
            # Without this an error of the spreadsheet would read as a blank.
            frame[row, column] = CELL_ERRORS.get(error.detail.rpartition("Error(")[2].rstrip("')"), "#VALUE!")
    frame = trimmed(frame).with_columns(pl.all().str.replace(r"^(\d{4}-\d{2}-\d{2}) 00:00:00$", "$1"))
    return frame, loaded.visible != "visible"


def _typed_cells(path: Path, sheet: str, point: str) -> tuple[pl.DataFrame, bool]:
    """The same, slower, cell by cell: where the books write 1.234,56 a number cell must not be read as text, where
    a formula has no result it must not be read as a blank, and a percentage not as a hundredth."""
    import openpyxl
    import polars as pl

    values = openpyxl.load_workbook(path, read_only=True, data_only=True)
    formulas = openpyxl.load_workbook(path, read_only=True)
    try:
        for book in (values, formulas):
            book[sheet].reset_dimensions()  # what a file says of its size is not always so
        rows = [
            [_cell_text(value, formula.value is not None, point) for value, formula in zip(*pair, strict=False)]
            for pair in zip(values[sheet].iter_rows(), formulas[sheet].iter_rows(), strict=False)
        ]
        hidden = values[sheet].sheet_state != "visible"
    finally:
        values.close()
        formulas.close()
    width = max(map(len, rows), default=0)
    frame = pl.DataFrame(
        {f"c{place}": [row[place] if place < len(row) else None for row in rows] for place in range(width)},
        schema={f"c{place}": pl.String for place in range(width)},
    )  # fmt: skip
    return trimmed(frame), hidden


def _cell_text(cell: Any, is_formula: bool, point: str) -> str | None:
    """A cell as text, numbers with the given decimal point and no more digits than they have, percentages as shown."""
    import datetime as dt

    value = cell.value
    if value is None:
        return "#NO RESULT" if is_formula and cell.data_type != "str" else None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return value.isoformat(" ").removesuffix(" 00:00:00")
    if isinstance(value, (int, float)):
        percent = _shows_percent(cell.number_format)
        value = value * 100 if percent else value
        plain = f"{value:.15g}"
        return (f"{value:.9f}" if "e" in plain else plain).replace(".", point) + "%" * percent
    return str(value)
