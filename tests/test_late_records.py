"""A record that comes after the close, of each kind, on whole books: the invented worked months and generated breweries.

One record of the first month is held back, the month is closed, the record comes. Then: no frozen row has moved; frozen +
corrections = what the books would show had it come in time, figure by figure, in every frozen table; the open month opens with
what was frozen, and opening + correction = what it would have opened with; every control holds; the record is named.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import duckdb
import pytest
from generated_brewery import Brewery
from small_books import compute, failed_controls, rows, write_books

from brewcost import closing, pipeline
from brewcost.books import Books

WORKED = Path(__file__).parent / "worked_months"
JAN, FEB = "2026-01", "2026-02"
ROLLS = {
    "material_months": ("qty", "cost"), "lot_months": ("bbl", "cost"), "goods_months": ("units", "bbl", "cost"),
    "house_stock_months": ("units", "cost"),
}  # fmt: skip


def figures(con: duckdb.DuckDBPyConnection, table: str) -> dict[tuple[str, str], Decimal]:
    """Subject and name to figure, of January; entries that correct are none of a month's figures."""
    found = con.execute(f"select subject, figure, value from figures_of('result.{table}') where month = ?", [JAN]).fetchall()
    return {(subject, name): value for subject, name, value in found if value}


def split_off(path: Path, row: int) -> Path:
    """Take one row out of a CSV file into a file of its own, out of the way; the later file is given back."""
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    late = path.parents[1] / f"{path.stem}-late.csv"
    for target, chosen in ((path, lines[:row] + lines[row + 1 :]), (late, [lines[0], lines[row]])):
        with target.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(chosen)
    return late


def candidates(path: Path) -> Iterator[int]:
    """Rows of a file that belong to January, the last first. The lines of one document stand in one file."""
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    column = next((lines[0].index(name) for name in ("date", "month") if name in lines[0]), None)
    named = next((lines[0].index(name) for name in ("document", "run", "move", "brew") if name in lines[0]), None)
    if column is not None:
        alone = [place for place, line in enumerate(lines) if line[column].startswith(JAN)
                 and (named is None or not line[named]
                      or sum(line[named] == other[named] for other in lines) == 1)]  # fmt: skip
        yield from alone[::-1][:3]


def closed_without(whole: Path, folder: Path, names: list[str]) -> tuple[Path, list[Path]]:
    """The books closed for January without one record of each of the files, as far as they can be closed so."""
    shutil.copytree(whole, folder)
    inputs = folder / "inputs"
    found = {name: row for name in names if (row := next(candidates(inputs / name), None)) is not None}
    late = [split_off(inputs / name, row) for name, row in found.items()]
    while late and not pipeline.build(Books(folder)).good:
        # Later rows rest on one of them: put half of them back.
        for one in late[len(late) // 2 :]:
            shutil.copy(whole / "inputs" / one.name.replace("-late", ""), inputs)
            one.unlink()
        late = late[: len(late) // 2]
    if late:
        closing.close(Books(folder), JAN, "Test controller")
    return folder, late


def check(con: duckdb.DuckDBPyConnection, fresh: duckdb.DuckDBPyConnection, frozen: Path, late: list[str]) -> None:
    assert not failed_controls(con) and not failed_controls(fresh)
    for table in closing.BY_MONTH:
        kept = duckdb.read_parquet(str(frozen / f"{table}.parquet")).order("all").fetchall()
        assert con.execute(f"select * from result.{table} where month = ? order by all", [JAN]).fetchall() == kept, table
        booked = figures(con, table)
        for row in rows(con, "from result.corrections where result_table = ?", [table]):
            key = row["subject"], row["figure"]
            booked[key] = booked.get(key, Decimal(0)) + row["difference"]
        assert {key: value for key, value in booked.items() if value} == figures(fresh, table), table
    for table, measures in ROLLS.items():
        for measure in measures:
            keys = {"material_months": "site, material", "lot_months": "site, lot",
                    "house_stock_months": "account, beer, package"}.get(table, "site, beer, package")  # fmt: skip
            query = f"select {keys}, opening_{measure} + correction_{measure} as amount from result.{table} " \
                    f"where month = ? and amount <> 0 order by all"  # fmt: skip
            assert con.execute(query, [FEB]).fetchall() == fresh.execute(query, [FEB]).fetchall(), (table, measure)
    ends = "select account, closing from result.account_months where month = ? and closing <> 0 order by all"
    assert con.execute(ends, [FEB]).fetchall() == fresh.execute(ends, [FEB]).fetchall()
    assert {row["file"] for row in rows(con, "from result.late_records")} == set(late)
    for row in rows(con, "from result.corrections"):
        assert any(name in row["caused_by"] for name in late) or "more" in row["caused_by"], row


# Brews, runs and returns on which later rows rest cannot be held back; test_closing has some that stand alone.
KINDS = ("byproducts", "counts", "expenses", "labour", "moves", "receipts", "shipments", "uses")


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, duckdb.DuckDBPyConnection]:
    folder = tmp_path_factory.mktemp("late") / "whole"
    shutil.copytree(WORKED, folder, ignore=shutil.ignore_patterns("expected"))
    return folder, compute(folder)


@pytest.mark.parametrize("kinds", [("counts",), ("receipts",), ("shipments",), KINDS], ids=lambda kinds: "-".join(kinds))
def test_late_records_of_the_worked_months(
    worked: tuple[Path, duckdb.DuckDBPyConnection], tmp_path: Path, kinds: tuple[str, ...]
) -> None:
    whole, fresh = worked
    folder, late = closed_without(whole, tmp_path / "books", [f"{kind}.csv" for kind in kinds])
    assert len(late) == len(kinds), "a record of these kinds cannot be held back"
    for path in late:
        shutil.move(path, folder / "inputs")
    check(compute(folder), fresh, folder / "closed" / JAN, [path.name for path in late])


@pytest.mark.parametrize("seed", [3, 14])
def test_late_records_of_generated_books(tmp_path: Path, seed: int) -> None:
    brewery = Brewery(Random(seed))
    options: dict[str, Any] = brewery.options
    whole = write_books(tmp_path / "whole", brewery.records, **options)
    kinds = [kind for kind in KINDS if (whole / "inputs" / f"{kind}.csv").exists()]
    folder, late = closed_without(whole, tmp_path / "books", [f"{kind}.csv" for kind in kinds])
    assert late
    for path in late:
        shutil.move(path, folder / "inputs")
    check(compute(folder), compute(whole), folder / "closed" / JAN, [path.name for path in late])
