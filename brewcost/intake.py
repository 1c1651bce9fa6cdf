"""Files to text: every .csv and .xlsx under inputs/, as rows of cells with the file, sheet and row they came from."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from brewcost import input_files, workbook_rows
from brewcost.kinds import Kind, dictionary
from brewcost.problems import Problem, found
from brewcost.text_rows import SPARE_CELLS, Intake, Sheet, Unreadable, any_filled, as_heading, headed, no_kind, trimmed

if TYPE_CHECKING:
    import polars as pl

TEXT_FILES = (".csv", ".tsv")
WORKBOOKS = (".xlsx", ".xlsm")
OLD_FORMATS = (".xls", ".xlsb", ".ods", ".numbers")
SEPARATORS = (",", ";", "\t", "|")
CHUNK_ROWS = 100_000
HEADING_LINES, HEADING_CHARACTERS = 20, 5_000
# A file of rows that were set aside, as `check --set-aside` writes it, and the columns that say where each had stood.
MENDED = r"^set[-_ ]aside($|[-_. ])"
ORIGIN = ("kind", "from_file", "from_sheet", "from_row")
_SEP_LINE = r"^sep=(.)\n"  # how Excel is told the separator


Reader = Callable[[Path, str], Intake]


def read(inputs: Path, number_style: str = "1,234.56") -> Intake:
    """Read every file under a folder.

    Args:
        inputs: the folder; subfolders, and folders that links lead to, are read too.
        number_style: how the books write numbers; number cells of a workbook are written out that way.

    Returns:
        The sheets sorted by file and sheet, and a finding for whatever could not be read. Bad files raise nothing.

    Raises:
        OSError: the folder itself cannot be listed.
    """
    intake = Intake()
    files, refused = input_files.under(inputs)
    intake.problems += [
        found("not-reached", why, file=name, expected="a file or folder that can be opened",
              action="put the files themselves into inputs, or take it out") for name, why in refused.items()
    ]  # fmt: skip
    parts = {name: _part(path, name, number_style) for name, path in files.items()}
    for name, first in _copies(files, parts).items():
        parts[name] = _as_copy(name, first, parts[name])
    for part in parts.values():
        intake.sheets += part.sheets
        intake.problems += part.problems
    intake.sheets.sort(key=lambda sheet: (sheet.file, sheet.sheet or ""))
    return intake


def _part(path: Path, name: str, number_style: str) -> Intake:
    """One file."""
    place = PurePosixPath(name)
    suffix = place.suffix.casefold()
    if suffix in TEXT_FILES or (suffix == ".txt" and dictionary().kind_of(place.stem)):
        return _unchanged(path, name, _text_file)
    if suffix in WORKBOOKS:
        return _unchanged(path, name, partial(workbook_rows.read, number_style=number_style))
    return Intake(problems=[_other_file(name, suffix)])


def _copies(files: Mapping[str, Path], parts: Mapping[str, Intake]) -> dict[str, str]:
    """The files with rows of the same kinds that are the same to the last byte as one with a shorter name, or an earlier
    one, and the name of that."""
    sizes: dict[object, list[str]] = {}
    for name, part in parts.items():
        if any(any_filled(sheet.cells) for sheet in part.sheets):
            kinds = tuple(sheet.kind.name for sheet in part.sheets)
            sizes.setdefault((files[name].stat().st_size, kinds), []).append(name)
    copies: dict[str, str] = {}
    for names in sizes.values():
        first: dict[bytes, str] = {}
        for name in sorted(names, key=lambda name: (len(name), name)) if len(names) > 1 else ():
            same = first.setdefault(hashlib.sha256(files[name].read_bytes()).digest(), name)
            if same != name:
                copies[name] = same
    return copies


def _as_copy(name: str, first: str, part: Intake) -> Intake:
    """What was read of a copy, its rows no records."""
    return Intake([replace(sheet, repeats=first) for sheet in part.sheets], [
        found("same-file", f"this file is the same as {first} to the last byte; its rows are not counted again", file=name,
              value=first, expected="each record once", action="take one of the two out of inputs")
    ])  # fmt: skip


def _other_file(name: str, suffix: str) -> Problem:
    if suffix in OLD_FORMATS:
        return found("old-format", f"{suffix} files are not read", file=name, value=suffix, expected=".xlsx or .csv",
                     action="open it and save it as .xlsx")  # fmt: skip
    return found("not-read", "this is neither .csv nor .xlsx and was not read", file=name, value=suffix,
                 expected=".xlsx or .csv", action="take it out of inputs, or save it as .xlsx or .csv")  # fmt: skip


def _unchanged(path: Path, name: str, reader: Reader) -> Intake:
    """Read a file, once more where it was written to in the meantime; a finding where it does not come to rest."""
    try:
        for _ in range(2):
            before = path.stat()
            part = _whole(path, name, reader)
            after = path.stat()
            if (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns):
                return part
        message = "another program was writing this file while it was read"
    except OSError as error:
        message = f"the file cannot be opened: {error.strerror or error}"
    return Intake(problems=[found("file-changing", message, file=name, expected="a file at rest",
                                  action="close it in the other program and run again")])  # fmt: skip


def _whole(path: Path, name: str, reader: Reader) -> Intake:
    try:
        if path.stat().st_size == 0:
            raise Unreadable(found("empty-file", "the file holds nothing", file=name, expected="records",
                                   action="save it again, or take it out of inputs"))  # fmt: skip
        return reader(path, name)
    except Unreadable as error:
        return Intake(problems=[error.problem])


def decoded(data: bytes, name: str) -> str:
    """The text of a csv file: UTF-8 with or without a mark, UTF-16 with one, else Windows-1252.

    Raises:
        Unreadable: it is no text.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif b"\x00" in data or data.startswith(b"PK\x03\x04"):
        encodings = []
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Unreadable(found("not-text", "this is not a text file", file=name, expected="text with separators",
                           action="save it as CSV UTF-8, or give it the ending of its program"))  # fmt: skip


def separator_of(text: str, kind: Kind | None) -> str:
    """The separator that makes most known headings of one of the first lines; a comma where none does."""
    known = {field.name for field in kind.fields} if kind else {*ORIGIN}

    def headings(separator: str) -> int:
        lines = (line[:HEADING_CHARACTERS] for line in text.split("\n", HEADING_LINES)[:HEADING_LINES])
        rows = csv.reader(lines, delimiter=separator)
        return max((len(known & {as_heading(cell) for cell in row}) for row in rows), default=0)

    return max(SEPARATORS, key=headings)


def _text_file(path: Path, name: str) -> Intake:
    stem = PurePosixPath(name).stem
    kind = dictionary().kind_of(stem)
    mended = re.match(MENDED, stem.casefold()) is not None
    if kind is None and not mended:
        return Intake(problems=[no_kind(name, None, stem)])
    text = decoded(path.read_bytes(), name)
    if "\r" in text:
        # Lines may end in \r alone; among lines that end in \n it is a stray mark, not the end of a record.
        text = text.replace("\r\n", "\n").replace("\r", " " if "\n" in text else "\n")
    if not text.strip():
        raise Unreadable(found("empty-file", "the file holds nothing", file=name, expected="records",
                               action="save it again, or take it out of inputs"))  # fmt: skip
    told = re.match(_SEP_LINE, text, re.IGNORECASE)
    if told:
        text = text[told.end() :]
    separator = told[1] if told else separator_of(text, kind)
    broken: list[Problem] = []
    frame = trimmed(_quoted(text, separator, name, broken) if '"' in text else _plain(text, separator))
    if kind is None:
        return _mended(name, frame, broken)
    return Intake(sheets=[headed(name, None, kind, frame, broken)])


def _mended(name: str, frame: pl.DataFrame, broken: list[Problem]) -> Intake:
    """Rows of several kinds that were set aside, each with where it had stood; a sheet a kind, named after it."""
    import polars as pl

    headings = [as_heading(cell or "") for cell in (frame.row(0) if frame.height else ())]
    missing = [column for column in ORIGIN if column not in headings]
    if missing:
        return Intake(problems=[found("missing-column", f"the column `{missing[0]}` is missing; nothing was read", file=name,
                                      row=1, field=missing[0], expected=", ".join(ORIGIN) + " and the fields",
                                      action="write the file again with `brewcost check --set-aside`")])  # fmt: skip
    at = {column: f"c{headings.index(column)}" for column in ORIGIN}
    rows = frame.slice(1).with_row_index("row", offset=2).with_columns(
        pl.col("row").cast(pl.Int64), pl.col(at["kind"]).str.to_lowercase().alias("kind"),
        pl.col(at["from_row"]).cast(pl.Int64, strict=False).alias("of_row"),
    ).filter(pl.any_horizontal(pl.col(column).is_not_null() for column in frame.columns))  # fmt: skip
    intake = Intake()
    stray = rows.filter(~pl.col("kind").is_in(list(dictionary().kinds)).fill_null(False))
    for row, called in stray.select("row", "kind").iter_rows():
        intake.problems.append(found("no-kind", f'"{called or ""}" is no kind of record; the row was not read',
                                     file=name, row=row, field="kind", value=called, expected=", ".join(dictionary().kinds),
                                     action="write the kind of record it is"))  # fmt: skip
    fields = [place for place, heading in enumerate(headings) if heading not in ORIGIN]
    for kind in dictionary().kinds.values():
        part = rows.filter(pl.col("kind") == kind.name)
        if part.height == 0:
            continue
        # The columns of the other kinds are none of its own; what stands in them all the same is said.
        own = [place for place in fields if kind.has(headings[place]) or part[f"c{place}"].null_count() < part.height]
        origins = part.select(
            "row", pl.col(at["from_file"]).fill_null(name).alias("of_file"), pl.col(at["from_sheet"]).alias("of_sheet"),
            pl.col("of_row").fill_null(pl.col("row")),
        )  # fmt: skip
        cells = part.select(pl.col(f"c{place}").alias(f"c{number}") for number, place in enumerate(own))
        intake.sheets.append(Sheet(name, kind.name, kind, tuple(headings[place] or None for place in own), cells,
                                   tuple(broken), origins))  # fmt: skip
    return intake


def _plain(text: str, separator: str) -> pl.DataFrame:
    """Cells of a text without quotation marks: every line is a record."""
    import polars as pl

    data = io.BytesIO(text.encode("utf-8"))
    lines = pl.read_lines(data).to_series()
    counts = lines.str.count_matches(separator, literal=True)
    limit = counts.item(0) + 1 + SPARE_CELLS
    width = int(counts.max()) + 1  # type: ignore[arg-type]
    if width <= limit and counts.min() == counts.max():
        # The quick reader; lines with fewer cells or none at all it would number otherwise or refuse.
        data.seek(0)
        schema = {f"c{place}": pl.String for place in range(width)}
        return pl.read_csv(data, has_header=False, schema=schema, separator=separator, quote_char=None)
    cells = lines.str.split(separator)
    columns = {f"c{place}": cells.list.get(place, null_on_oob=True) for place in range(min(width, limit))}
    if width > limit:
        columns[f"c{limit - 1}"] = cells.list.slice(limit - 1).list.join(separator)
    return pl.DataFrame(columns)


def _quoted(text: str, separator: str, name: str, broken: list[Problem]) -> pl.DataFrame:
    """Cells of a text with quotation marks; a mark that never closes takes the rest of the file into its row."""
    import polars as pl

    if (csv.field_size_limit()) < len(text):
        csv.field_size_limit(len(text))
    frames: list[pl.DataFrame] = []
    first = next(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    limit = len(first) + SPARE_CELLS
    rows = 0
    for chunk in _chunks(csv.reader(io.StringIO(text, newline=""), delimiter=separator)):
        width = min(max(map(len, chunk)), limit)
        for row in chunk:
            if len(row) > limit:
                row[limit - 1 :] = [separator.join(row[limit - 1 :])]
        frames.append(pl.DataFrame(
            {f"c{place}": [row[place] if place < len(row) else None for row in chunk] for place in range(width)},
            schema={f"c{place}": pl.String for place in range(width)},
        ))  # fmt: skip
        rows += len(chunk)
    frame = pl.concat(frames, how="diagonal")
    closed = _closed(text, separator)
    broken += _swallowed(frame if closed else frame.head(rows - 1), separator, len(first), name)
    if not closed:
        broken.append(found("unclosed-quote", "a quotation mark opens in this row and never closes, so the rest of "
                            "the file became part of it", file=name, row=rows, expected="quotation marks in pairs",
                            action="close it, or write it twice where it is meant as one"))  # fmt: skip
    return frame


def _swallowed(frame: pl.DataFrame, separator: str, width: int, name: str) -> list[Problem]:
    """Cells in which rows stand: their line ends and as many separators as a row has. Two stray marks do that."""
    import polars as pl

    problems = []
    text = pl.all().str
    holds = frame.select(text.contains("\n", literal=True) & (text.count_matches(separator, literal=True) >= max(width - 1, 1)))
    for place, (cells, here) in enumerate(zip(frame, holds, strict=True)):
        for row, cell in zip(here.arg_true() + 1, cells.filter(here), strict=True) if here.any() else ():
            problems.append(found("rows-in-a-cell", f"two quotation marks made one cell of what stands in rows {row} to "
                                  f"{row + cell.count(chr(10))}", file=name, row=row, field=f"column {place + 1}",
                                  value=cell[:200], expected="a row a line", action="take the quotation marks out, or write "
                                  "each twice inside a pair where it is meant as one"))  # fmt: skip
    return problems


def _closed(text: str, separator: str) -> bool:
    """Whether the last record ends outside quotation marks: a further line then makes a further record."""
    probe = "end-of-file-probe"
    last: list[str] = []
    for row in csv.reader(io.StringIO(text.rstrip("\r\n") + "\n" + probe, newline=""), delimiter=separator):
        last = row
    return last == [probe]


def _chunks(rows: Iterator[list[str]]) -> Iterator[list[list[str]]]:
    chunk: list[list[str]] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == CHUNK_ROWS:
            yield chunk
            chunk = []
    if chunk:
        yield chunk
