"""Warnings that somebody looked at and accepted: `accepted.csv` beside brewery.toml, a line each, for anyone to read."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from brewcost.plain_text import guarded, unguarded
from brewcost.problems import ERROR, Problem
from brewcost.trouble import replacing

if TYPE_CHECKING:
    import duckdb

FILE = "accepted.csv"
# Up to `message`: which finding it is; of one that has a file the message may change.
COLUMNS = ("code", "month", "file", "sheet", "row", "field", "value", "message", "why", "who", "accepted_on")


class AcceptError(RuntimeError):
    """Nothing can be accepted so, or accepted.csv cannot be read; the message says what to do."""


def register(con: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """Register `given_accepted`: what stands in accepted.csv, blank cells as null.

    Raises:
        AcceptError: the file is not what `brewcost accept` writes.
    """
    import polars as pl

    schema = {name: pl.Int64 if name == "row" else pl.String for name in COLUMNS}
    con.register("given_accepted", pl.DataFrame(_read(folder / FILE), schema=schema, orient="row").to_arrow())


def _read(path: Path) -> list[tuple[str | int | None, ...]]:
    if not path.exists():
        return []
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            reader = csv.DictReader(lines)
            if not set(COLUMNS) <= set(reader.fieldnames or ()):
                raise AcceptError(f"{path}: the first line must be {','.join(COLUMNS)}")
            return [tuple(_cell(name, line[name] or "") for name in COLUMNS) for line in reader]
    except UnicodeDecodeError as error:
        raise AcceptError(f"{path} is not text in UTF-8; save it as CSV UTF-8") from error
    except (ValueError, csv.Error) as error:
        raise AcceptError(f"{path} cannot be read at line {reader.line_num}; mend that line, or delete it") from error


def _cell(name: str, text: str) -> str | int | None:
    return (int(text) if name == "row" else unguarded(text)) if text else None


def accept(
    folder: Path, problems: Iterable[Problem], code: str, wanted: Mapping[str, str | int | None], why: str, who: str,
    today: date,
) -> Problem:  # fmt: skip
    """Add the one open warning that fits to accepted.csv; it is accepted in its month and in no other. Warnings without
    a file that only their message tells apart (the same pool at two sites) are accepted together.

    Args:
        problems: the findings that are open.
        wanted: what is known of it: file, row and, where more than one would fit, sheet, field, month or value.

    Raises:
        AcceptError: it is an error, none fits, more than one fits, or no reason is given.
    """
    if not why.strip():
        raise AcceptError("say why: --why TEXT")
    given = {name: value for name, value in wanted.items() if value is not None}
    fits = [one for one in problems if one.code == code
            and all(getattr(one, name) == value for name, value in given.items())]  # fmt: skip
    if not fits:
        said = "".join(f", {name} {value}" for name, value in given.items())
        raise AcceptError(f"there is no open finding {code}{said}; `brewcost check --all` prints every one")
    if any(one.severity == ERROR for one in fits):
        raise AcceptError(f"{fits[0]}: an error cannot be accepted; put it right")
    if len({(one.month, one.file, one.sheet, one.row, one.field, one.value) for one in fits}) > 1:
        listed = "\n".join(f"  {one.month or 'every month'}: {one}" for one in fits[:5])
        raise AcceptError(f"{len(fits)} findings fit; add FILE, ROW, --sheet, --field, --month or --value:\n{listed}")
    one = fits[0]
    messages = dict.fromkeys(one.message for one in fits) if one.file is None else [one.message]
    path = folder / FILE
    _read(path)
    before = path.read_bytes().decode("utf-8-sig") if path.exists() else ",".join(COLUMNS)
    with replacing(path) as unfinished, unfinished.open("w", encoding="utf-8-sig", newline="") as out:
        # A person or a spreadsheet may have taken the last line's end away, or put the columns in another order.
        out.write(before if before.endswith("\n") else f"{before}\r\n")
        writer = csv.DictWriter(out, next(csv.reader(before.splitlines())), extrasaction="ignore")
        for message in messages:
            line = {**vars(one), "message": message, "why": why.strip(), "who": who, "accepted_on": today.isoformat()}
            writer.writerow({name: guarded(cell) if isinstance(cell, str) else cell for name, cell in line.items()})
    return one
