"""Small books for tests: records as rows, through the whole pipeline, into an open database. All invented."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb

from brewcost import pipeline, settings
from brewcost.books import Books

SETTINGS = """
name = "Invented Test Brewery"
currency = "USD"
first_month = "{first_month}"

[costing]
materials = "{materials}"
goods = "{goods}"
own_houses = "{own_houses}"

[[sites]]
site = "main"
area = "US-ME"
{more}
"""


def write_books(
    folder: Path,
    records: Mapping[str, Iterable[Mapping[str, Any]]],
    *,
    first_month: str = "2026-01",
    materials: str = "fifo",
    goods: str = "fifo",
    own_houses: str = "expensed",
    more: str = "",
) -> Path:
    """Write brewery.toml and one CSV file a kind; a row holds only the fields it fills."""
    inputs = folder / "inputs"
    inputs.mkdir(parents=True, exist_ok=True)
    text = SETTINGS.format(first_month=first_month, materials=materials, goods=goods,
                           own_houses=own_houses, more=more)  # fmt: skip
    (folder / "brewery.toml").write_text(text, encoding="utf-8")
    for kind, given in records.items():
        rows = list(given)
        names = list(dict.fromkeys(name for row in rows for name in row))
        if names:
            with (inputs / f"{kind}.csv").open("w", encoding="utf-8", newline="") as out:
                writer = csv.DictWriter(out, names)
                writer.writeheader()
                writer.writerows(rows)
    return folder


def compute(folder: Path) -> duckdb.DuckDBPyConnection:
    """The books of a folder computed in memory."""
    con = duckdb.connect()
    pipeline.compute(con, Books(folder), settings.load(folder / "brewery.toml"))
    return con


def books(records: Mapping[str, Iterable[Mapping[str, Any]]], **options: Any) -> duckdb.DuckDBPyConnection:
    """Records to computed books."""
    with tempfile.TemporaryDirectory() as folder:
        return compute(write_books(Path(folder), records, **options))


def rows(con: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[Any] = ()) -> list[dict[str, Any]]:
    """A query's rows as dictionaries."""
    cursor = con.execute(query, list(parameters) or None)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def one(con: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[Any] = ()) -> Any:
    """The one figure a query gives."""
    found = con.execute(query, list(parameters) or None).fetchall()
    assert len(found) == 1 and len(found[0]) == 1, found
    return found[0][0]


def codes(con: duckdb.DuckDBPyConnection, severity: str = "error") -> list[str]:
    """The codes of the findings of one severity, sorted."""
    found = con.execute("select code from result.problems where severity = ? order by code", [severity]).fetchall()
    return [code for (code,) in found]


def failed_controls(con: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    return rows(con, "select * from result.controls where not holds order by all")


def money(text: str) -> Decimal:
    return Decimal(text)


# A beer, a keg, a material and the tanks that most small books need.
BEERS = [{"beer": "Test Ale", "style": "ale", "abv_pct": "5"}]
ACCOUNTS = [{"account": "Test house", "kind": "own_location", "area": "US-ME"}]
MALT = [{"material": "malt", "kind": "malt", "stock_unit": "lb", "extract_pct": "80"}]
VESSELS = [
    {"vessel": "F1", "site": "main", "kind": "fermenter", "working_volume": "2000"},
    {"vessel": "B1", "site": "main", "kind": "bright_tank", "working_volume": "2000"},
]
REFERENCE = {"beers": BEERS, "accounts": ACCOUNTS, "materials": MALT, "vessels": VESSELS}


def lines(path: Path, change: Callable[[list[str]], list[str]]) -> None:
    """Change the lines of a text file."""
    path.write_text("\n".join(change(path.read_text(encoding="utf-8").splitlines())) + "\n", encoding="utf-8")
