"""Workbooks to text: what is looked at before one is opened, and its sheets as rows of cells."""

from __future__ import annotations

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
_NO_RESULT = re.compile(
    rb"<(?:\w+:)?f(?: [^>]*)?(?:/>|>[^<]*</(?:\w+:)?f>)\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v></(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)


def read(path: Path, name: str, number_style: str) -> Intake:
    """Read every sheet of a workbook that is named after a kind of record; `notes` and `_...` are left out.

    Raises:
        Unreadable: it is no workbook, is damaged, protected or too large.
    """
    import fastexcel

    bare_formulas = _look_at(path, name)
    cell_by_cell = bare_formulas or number_style != "1,234.56"
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
            frame, hidden = _cells(book, sheet)
            if kind and cell_by_cell:
                frame = _typed_cells(path, sheet, "," if number_style.endswith(",56") else ".")
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


def _look_at(path: Path, name: str) -> bool:
    """Refuse what is no workbook or would fill the memory, before the engine opens it.

    Returns:
        Whether a formula stands somewhere without its result, as programs write that do not compute.
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


def _check_sheets(archive: zipfile.ZipFile, name: str) -> bool:
    bare_formulas = False
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
        bare_formulas = bare_formulas or _NO_RESULT.search(data) is not None
    return bare_formulas


def _column(letters: bytes) -> int:
    """A is 1, AA is 27."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _cells(book: Any, sheet: str) -> tuple[pl.DataFrame, bool]:
    """The cells of one sheet as trimmed text, and whether it is hidden."""
    import polars as pl

    loaded = book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
    batch, errors = loaded.to_arrow_with_errors()
    frame = pl.DataFrame(pl.from_arrow(batch))
    if errors is not None:
        for error in errors.errors:
            row, column = error.position
            # Without this an error of the spreadsheet would read as a blank.
            frame[row, column] = CELL_ERRORS.get(error.detail.rpartition("Error(")[2].rstrip("')"), "#VALUE!")
    frame = trimmed(frame).with_columns(pl.all().str.replace(r"^(\d{4}-\d{2}-\d{2}) 00:00:00$", "$1"))
    return frame, loaded.visible != "visible"


def _typed_cells(path: Path, sheet: str, point: str) -> pl.DataFrame:
    """The same, slower, cell by cell: where the books write 1.234,56 a number cell must not be read as text, and where
    a formula has no result it must not be read as a blank."""
    import openpyxl
    import polars as pl

    values = openpyxl.load_workbook(path, read_only=True, data_only=True)
    formulas = openpyxl.load_workbook(path, read_only=True)
    try:
        rows = [
            [_cell_text(value.value, formula.value, point) for value, formula in zip(*pair, strict=False)]
            for pair in zip(values[sheet].iter_rows(), formulas[sheet].iter_rows(), strict=False)
        ]
    finally:
        values.close()
        formulas.close()
    width = max(map(len, rows), default=0)
    return trimmed(pl.DataFrame(
        {f"c{place}": [row[place] if place < len(row) else None for row in rows] for place in range(width)},
        schema={f"c{place}": pl.String for place in range(width)},
    ))  # fmt: skip


def _cell_text(value: Any, formula: Any, point: str) -> str | None:
    """A cell as text, numbers with the given decimal point and no more digits than they have."""
    import datetime as dt

    if value is None:
        return None if formula is None else "#NO RESULT"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return value.isoformat(" ").removesuffix(" 00:00:00")
    if isinstance(value, (int, float)):
        plain = f"{value:.15g}"
        return (f"{value:.9f}" if "e" in plain else plain).replace(".", point)
    return str(value)
