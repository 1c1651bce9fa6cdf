"""Warnings that somebody looked at and accepted: `accepted.csv` beside brewery.toml, a line each, for anyone to read."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from brewcost.problems import ERROR, Problem

if TYPE_CHECKING:
    import duckdb

FILE = "accepted.csv"
COLUMNS = ("code", "file", "sheet", "row", "field", "value", "why", "who", "accepted_on")


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
            return [tuple(int(line[name]) if name == "row" and line[name] else line[name] or None for name in COLUMNS)
                    for line in reader]  # fmt: skip
    except (ValueError, csv.Error) as error:
        raise AcceptError(f"{path} cannot be read: {error}; mend it, or delete its last lines") from error


def accept(
    folder: Path, problems: Iterable[Problem], code: str, file: str | None, row: int | None, why: str, who: str,
    today: date, sheet: str | None = None, field: str | None = None,
) -> Problem:  # fmt: skip
    """Add the one open warning that fits to accepted.csv.

    Args:
        problems: the findings that are open.
        sheet, field: only needed where more than one would fit.

    Raises:
        AcceptError: it is an error, none fits, more than one fits, or no reason is given.
    """
    if not why.strip():
        raise AcceptError("say why: --why TEXT")
    wanted = {"file": file, "row": row, "sheet": sheet, "field": field}
    fits = [one for one in problems if one.code == code
            and all(value is None or getattr(one, name) == value for name, value in wanted.items())]  # fmt: skip
    if not fits:
        raise AcceptError(f"there is no open finding {code}" + (f" in {file}" if file else "") + (f" row {row}" if row else ""))
    if any(one.severity == ERROR for one in fits):
        raise AcceptError(f"{fits[0]}: an error cannot be accepted; put it right")
    if len({(one.file, one.sheet, one.row, one.field, one.value) for one in fits}) > 1:
        listed = "\n".join(f"  {one}" for one in fits[:5])
        raise AcceptError(f"{len(fits)} findings fit; add FILE, ROW, --sheet or --field:\n{listed}")
    one = fits[0]
    path = folder / FILE
    fresh = not path.exists()
    _read(path)
    with path.open("a", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        if fresh:
            writer.writerow(COLUMNS)
        writer.writerow((one.code, one.file, one.sheet, one.row, one.field, one.value, why.strip(), who, today.isoformat()))
    return one
