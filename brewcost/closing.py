"""Close and reopen a month: its result rows kept in `closed/MONTH/`, a file a table, outside the database.

`close.json` beside them says who closed it, when, with which version, and the hash of every input, area file and frozen table;
it carries the hash of the close of the month before, so that the closes form a chain. What later records change is worked out
in sql/65_closing; nothing here computes.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import json
import re
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost import __version__, areas, input_files
from brewcost.books import Books
from brewcost.places import sql_dir
from brewcost.trouble import about, replacing

if TYPE_CHECKING:
    import duckdb

FOLDER = "65_closing"
SAID, REOPENED = "close.json", "reopened"
# The tables of result.* that a month freezes. `corrections` by the month they were booked in, `controls` as they stood.
BY_MONTH = (
    "material_months", "lot_months", "run_costs", "goods_months", "stage_losses", "period_expenses", "margins",
    "house_stock_months", "duty_months", "capacity", "variances", "labour_variances",
    "purchase_variances", "overhead_variances", "journal",
)  # fmt: skip
_STRUCTURE = {
    # These two are made after the turn, so their columns are written here.
    "controls": "month text, control text, subject text, expected decimal(18,6), actual decimal(18,6), "
                "difference decimal(18,6), holds boolean",
    "corrections": "booked_month text, closed_month text, result_table text, subject text, figure text, "
                   "booked decimal(28,10), recomputed decimal(28,10), difference decimal(28,10), account text, "
                   "caused_by text",
    # What had come, changed or gone since the close before.
    "records": "booked_month text, change text, kind text, file text, sheet text, row bigint, month text, cells text, "
               "before_cells text",
}  # fmt: skip


_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")
_TEXTS = ("month", "closed_at", "closed_by", "version", "inputs_hash", "areas_hash", "program_hash", "close_before")
_HASHES = ("inputs", "areas", "tables")


class ClosingError(RuntimeError):
    """A month cannot be closed or reopened, or closed/ is not as it was left; the message says why."""


@dataclass(frozen=True)
class Closed:
    """One closed month: its folder and what its close.json says."""

    month: str
    folder: Path
    said: dict[str, Any]


def read(books: Books) -> tuple[Closed, ...]:
    """The closed months of a folder in order.

    Raises:
        ClosingError: a close.json is missing or damaged, or a month between two closed ones is not there.
    """
    if not books.closed.exists():
        return ()
    # A copy that somebody made beside them, `2026-02 - Copy`, is no closed month.
    folders = sorted(path for path in books.closed.iterdir() if _MONTH.fullmatch(path.name))
    months = [Closed(folder.name, folder, _said(folder)) for folder in folders]
    for before, after in itertools.pairwise(months):
        if after.month != _next(before.month):
            raise ClosingError(f"{books.closed} has no {_next(before.month)} though {after.month} is closed; put the folder "
                               "closed/ back from a copy")  # fmt: skip
    return tuple(months)


def _said(folder: Path) -> dict[str, Any]:
    """What a month's close.json says: texts, and hashes by name."""
    path = folder / SAID
    try:
        said: Any = json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        raise _damaged(path) from error
    if not isinstance(said, dict) or said.get("month") != folder.name:
        raise _damaged(path)
    if not all(isinstance(said.get(name), str) for name in _TEXTS):
        raise _damaged(path)
    for name in _HASHES:
        hashes = said.get(name)
        if not isinstance(hashes, dict) or not all(isinstance(found, str) for found in hashes.values()):
            raise _damaged(path)
    return said


def _damaged(path: Path) -> ClosingError:
    return ClosingError(f"{path} is missing or damaged; put the folder closed/ back from a copy")


def remembered(books: Books) -> None:
    """Hold the folder against the last run, which knew what was closed.

    Raises:
        ClosingError: a month it knew is gone from closed/, and nobody reopened it.
    """
    closes = {(one.month, one.said["closed_at"]) for one in read(books)}
    for path in books.closed.glob(f"{REOPENED}/*/{SAID}"):
        with contextlib.suppress(ValueError, KeyError, TypeError):
            said = json.loads(path.read_text(encoding="utf-8"))
            closes.add((said["month"], said["closed_at"]))
    for month, closed_at in books.remembered("select month, closed_at from closing.months order by month"):
        if (month, closed_at) not in closes:
            raise ClosingError(f"{books.closed / month} is gone, and {month} was closed at {closed_at}; put the folder closed/ "
                               "back from a copy (`brewcost reopen` is what opens a month again)")  # fmt: skip


def register(con: duckdb.DuckDBPyConnection, closed: Iterable[Closed]) -> None:
    """Register the frames that sql/65_closing reads: `given_closed_months`, `given_closed_files`, `given_closed_sources` and a
    `given_frozen_*` for each frozen table, with the columns of the result table where no month is closed."""
    import polars as pl

    closed = list(closed)
    text = pl.String
    columns = ("month", "closed_at", "closed_by", "version", "inputs_hash", "areas_hash")
    con.register("given_closed_months", pl.DataFrame(
        [{name: one.said[name] for name in columns} for one in closed], schema=dict.fromkeys(columns, text)
    ).to_arrow())  # fmt: skip
    con.register("given_closed_sources", pl.DataFrame(
        _sources(closed[-1]) if closed else [], schema=dict.fromkeys(("kind", "file", "recorded_hash", "found_hash"), text)
    ).to_arrow())  # fmt: skip
    files = []
    before = ""
    for one in closed:
        recorded = one.said["tables"]
        names = sorted({*recorded, *(path.name for path in one.folder.glob("*.parquet"))})
        files += [{"month": one.month, "file": name, "recorded_hash": recorded.get(name, "not frozen"),
                   "found_hash": _hash(one.folder / name)} for name in names]  # fmt: skip
        files.append({"month": one.month, "file": "the close before", "recorded_hash": one.said["close_before"],
                      "found_hash": before})  # fmt: skip
        before = _hash(one.folder / SAID)
    con.register("given_closed_files", pl.DataFrame(
        files, schema=dict.fromkeys(("month", "file", "recorded_hash", "found_hash"), text)
    ).to_arrow())  # fmt: skip
    changed = {(row["month"], row["file"]) for row in files if row["recorded_hash"] != row["found_hash"]}
    for name in (*BY_MONTH, *_STRUCTURE):
        if name not in BY_MONTH:
            con.execute(f"create or replace temp table no_{name} ({_STRUCTURE[name]})")
        like = con.table(f"result.{name}" if name in BY_MONTH else f"no_{name}")
        paths = []
        for one in closed:
            path = one.folder / f"{name}.parquet"
            if (one.month, path.name) in changed and path.exists():
                _hold(con, path, like.columns)
            paths += [str(path)] if path.exists() else []
        frozen = con.read_parquet(paths, union_by_name=True) if paths else like.limit(0)
        con.register(f"given_frozen_{name}", frozen.to_arrow_table())


def _hold(con: duckdb.DuckDBPyConnection, path: Path, columns: Sequence[str]) -> None:
    """See that a frozen table that was changed can be read and is the table that its name says; K10 tells the rest."""
    import duckdb

    try:
        frozen = con.read_parquet(str(path)).to_arrow_table()
    except duckdb.Error as error:
        raise _damaged(path) from error
    if set(frozen.column_names) != set(columns):
        raise _damaged(path)


def close(books: Books, month: str, by: str) -> Path:
    """Freeze a month of computed books.

    Args:
        books: the folder; its database has just been built.
        month: such as `2026-03`.
        by: who closes it.

    Returns:
        The month's folder under closed/.

    Raises:
        ClosingError: it is closed already, an earlier month is open, or an error or a failed control stands in it.
    """
    closed = read(books)
    unfinished = books.closed / f".{month}.new"
    with contextlib.closing(books.reading()) as con:
        _refuse(con, month, [one.month for one in closed])
        shutil.rmtree(unfinished, ignore_errors=True)
        unfinished.mkdir(parents=True)
        try:
            _freeze(con, month, unfinished)
            said = _says(books, month, by, closed, unfinished)
            with about(unfinished / SAID):
                (unfinished / SAID).write_text(json.dumps(said, ensure_ascii=False, indent=2), encoding="utf-8")
            return unfinished.replace(books.closed / month)
        finally:
            shutil.rmtree(unfinished, ignore_errors=True)


def _freeze(con: duckdb.DuckDBPyConnection, month: str, folder: Path) -> None:
    import duckdb

    for name in (*BY_MONTH, *_STRUCTURE):
        if name == "records":
            rows = con.sql("select $month as booked_month, * from closing.record_changes", params={"month": month})
        else:
            key = "booked_month" if name == "corrections" else "month"
            rows = con.table(f"result.{name}").filter(duckdb.ColumnExpression(key) == duckdb.ConstantExpression(month))
        rows.order("all").write_parquet(str(folder / f"{name}.parquet"), compression="zstd")


def _says(books: Books, month: str, by: str, closed: Sequence[Closed], frozen: Path) -> dict[str, Any]:
    """What close.json says of a month whose frozen tables are there."""
    files, _ = input_files.under(books.inputs)
    inputs = {"brewery.toml": _hash(books.settings)} | {f"inputs/{name}": _hash(path) for name, path in files.items()}
    laws = _laws(books.folder)
    return {
        "month": month,
        "closed_at": _now(),
        "closed_by": by,
        "version": __version__,
        "inputs_hash": _hash_of(inputs),
        "areas_hash": _hash_of(laws),
        "program_hash": _program(),
        "close_before": _hash(closed[-1].folder / SAID) if closed else "",
        "inputs": inputs,
        "areas": laws,
        "tables": {path.name: _hash(path) for path in sorted(frozen.glob("*.parquet"))},
    }


def reopen(books: Books, month: str, by: str, why: str) -> Path:
    """Open the last closed month again; what was frozen is kept under closed/reopened/ with who, when and why.

    Returns:
        Where it is kept.

    Raises:
        ClosingError: the month is not closed, or a later one is.
    """
    months = read(books)
    if month not in [one.month for one in months]:
        raise ClosingError(f"{month} is not closed")
    last = months[-1]
    if last.month != month:
        raise ClosingError(f"{month} cannot be opened while {last.month} is closed; reopen {last.month} first")
    at = _now()
    kept = books.closed / REOPENED / f"{month} {at.replace(':', '')}"
    kept.parent.mkdir(parents=True, exist_ok=True)
    said = {"month": month, "reopened_at": at, "reopened_by": by, "why": why, "version": __version__}
    note = last.folder / "reopen.json"
    with replacing(note) as unfinished:
        unfinished.write_text(json.dumps(said, ensure_ascii=False, indent=2), encoding="utf-8")
    try:
        return last.folder.replace(kept)
    except OSError:
        note.unlink(missing_ok=True)
        raise


def _refuse(con: duckdb.DuckDBPyConnection, month: str, closed: list[str]) -> None:
    months = [found for (found,) in con.execute("select month from record.months order by month").fetchall()]
    if month in closed:
        raise ClosingError(f"{month} is closed already; `brewcost reopen {month} --why ...` opens it again")
    if month not in months:
        raise ClosingError(f"{month!r} is not a month of these books; they run from {months[0]} to {months[-1]}"
                           if months else "there are no records yet, so there is no month to close")  # fmt: skip
    if closed and month < closed[-1]:
        raise ClosingError(f"{month} cannot be closed while {closed[-1]} is, which stands on it; put the folder "
                           "closed/ back from a copy")  # fmt: skip
    open_before = [found for found in months if found < month and found not in closed]
    if open_before:
        raise ClosingError(f"{month} cannot be closed while {open_before[0]} is open; close the months in order")
    [(errors, controls)] = con.execute(
        "select (select count(*) from result.problems where severity = 'error' and code <> 'control-failed' "
        "and (month is null or month <= $month)), "
        "(select count(*) from result.controls where not holds and (month is null or month <= $month))",
        {"month": month},
    ).fetchall()
    if errors or controls:
        raise ClosingError(f"{month} cannot be closed: {errors} findings of severity error and {controls} failed controls "
                           "stand in it; `brewcost check` shows them")  # fmt: skip


def _laws(folder: Path) -> dict[str, str]:
    """The area files in use: name to hash; a brewery's own stand in the place of ours."""
    laws = [*areas.SHIPPED.glob("*.toml"), *areas.own_files(folder)]
    return {path.name: _hash(path) for path in sorted(laws)}


def _program() -> str:
    return _hash_of({path.relative_to(sql_dir()).as_posix(): _hash(path) for path in sorted(sql_dir().glob("*/*.sql"))})


def _sources(last: Closed) -> list[dict[str, str]]:
    """What else a closed figure stands on: brewery.toml, the area files and the rules, as at the last close and now."""
    folder = last.folder.parent.parent
    settings = Books(folder).settings
    closed, now = last.said["areas"], _laws(folder)
    return [
        {"kind": "settings", "file": settings.name, "recorded_hash": last.said["inputs"].get(settings.name, ""),
         "found_hash": _hash(settings)},
        {"kind": "program", "file": f"rules of brewcost {__version__}", "recorded_hash": last.said["program_hash"],
         "found_hash": _program()},
        *({"kind": "areas", "file": f"area file {name}", "recorded_hash": closed.get(name, ""),
           "found_hash": now.get(name, "")} for name in sorted({*closed, *now})),
    ]  # fmt: skip


def _next(month: str) -> str:
    year, number = int(month[:4]), int(month[5:])
    return f"{year + 1:04d}-01" if number == 12 else f"{year:04d}-{number + 1:02d}"


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _hash(path: Path) -> str:
    if not path.is_file():
        return "missing"
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _hash_of(hashes: dict[str, str]) -> str:
    return hashlib.sha256("\n".join(f"{name} {found}" for name, found in hashes.items()).encode()).hexdigest()
