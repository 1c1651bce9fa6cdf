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
    """Rows of a file that belong to January, the last first; of a file without dates none. A document stands in one file."""
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    column = next((lines[0].index(name) for name in ("date", "month") if name in lines[0]), None)
    named = next((lines[0].index(name) for name in ("document", "run", "move", "brew") if name in lines[0]), None)
    if column is not None:
        alone = [place for place, line in enumerate(lines) if line[column].startswith(JAN)
                 and (named is None or not line[named] or sum(line[named] == other[named] for other in lines) == 1)]  # fmt: skip
        yield from alone[::-1][:3]


def closed_without(whole: Path, folder: Path, names: list[str]) -> tuple[Path, list[Path]]:
    """The books closed for January without one record of each of the files; where they cannot be closed so, another record."""
    shutil.copytree(whole, folder)
    late = []
    for name in names:
        path = folder / "inputs" / name
        kept = path.read_bytes()
        for row in candidates(path):
            one = split_off(path, row)
            try:
                good = pipeline.build(Books(folder)).good
                if good:
                    late.append(one)
                    break
            finally:
                if not late or late[-1] != one:
                    path.write_bytes(kept)
                    one.unlink()
    if late:
        pipeline.build(Books(folder))
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
SEVERAL = ("expenses", "labour", "moves", "packaging", "receipts", "returns", "shipments", "uses")


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, duckdb.DuckDBPyConnection]:
    folder = tmp_path_factory.mktemp("late") / "whole"
    shutil.copytree(WORKED, folder, ignore=shutil.ignore_patterns("expected"))
    return folder, compute(folder)


@pytest.mark.parametrize("kind", KINDS)
def test_a_late_record_of_the_worked_months(
    worked: tuple[Path, duckdb.DuckDBPyConnection], tmp_path: Path, kind: str
) -> None:
    whole, fresh = worked
    folder, late = closed_without(whole, tmp_path / "books", [f"{kind}.csv"])
    assert late, "no record of this kind can be held back"
    shutil.move(late[0], folder / "inputs")
    check(compute(folder), fresh, folder / "closed" / JAN, [f"{kind}-late.csv"])


@pytest.mark.parametrize("seed", [3, 14])
def test_late_records_of_several_kinds_in_generated_books(tmp_path: Path, seed: int) -> None:
    brewery = Brewery(Random(seed))
    options: dict[str, Any] = brewery.options
    whole = write_books(tmp_path / "whole", brewery.records, **options)
    folder, late = closed_without(whole, tmp_path / "books", [f"{kind}.csv" for kind in SEVERAL])
    assert len(late) >= 4
    for path in late:
        shutil.move(path, folder / "inputs")
    check(compute(folder), compute(whole), folder / "closed" / JAN, [path.name for path in late])
