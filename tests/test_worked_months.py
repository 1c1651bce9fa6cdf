"""A whole invented brewery for two months, computed a second time by a separate program in exact fractions: every table it
gives must come out here, to 0.0005 or one part in a million, whichever is wider."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import duckdb
import keys
import pytest
from small_books import compute, failed_controls, rows

FOLDER = Path(__file__).parent / "worked_months"
KEYS = {
    "material_months": ("month", "site", "material"),
    "stage_losses": ("month", "site", "stage", "brew", "lot", "move", "run", "package"),
    "lot_months": ("month", "site", "lot"),
    "run_costs": ("month", "site", "run", "beer", "package"),
    "goods_months": ("month", "site", "beer", "package"),
    "period_expenses": ("month", "site", "kind", "detail"),
    "removals_by_day": ("site", "date", "form"),
    "cost_of_goods_sold": ("month", "beer", "package", "account"),
}
QUERIES = {
    "removals_by_day": "select * from result.removals_by_day where area = 'US'",
    "cost_of_goods_sold": "select month, beer, package, account, sum(units) as units, "
    "sum(cost_of_goods_sold) as cost_of_goods_sold from result.margins group by all",
}


@pytest.fixture(scope="module")
def worked() -> duckdb.DuckDBPyConnection:
    return compute(FOLDER)


def test_every_table_has_the_key_its_header_names(worked: duckdb.DuckDBPyConnection) -> None:
    assert not keys.broken(worked)


@pytest.mark.parametrize("table", KEYS)
def test_every_row_and_figure_agrees(worked: duckdb.DuckDBPyConnection, table: str) -> None:
    key = KEYS[table]
    with (FOLDER / "expected" / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        expected = {tuple(row[name] for name in key): row for row in csv.DictReader(file)}
    computed = {
        tuple("" if row[name] is None else str(row[name]) for name in key): row
        for row in rows(worked, QUERIES.get(table, f"from result.{table}"))
    }
    assert computed.keys() == expected.keys()
    differing = []
    for where, row in expected.items():
        for name, text in row.items():
            found = computed[where][name]
            if name not in key and not _agree(text, found):
                differing.append((where, name, text, found))
    assert not differing


def _agree(text: str, found: object) -> bool:
    if text == "" or found is None:
        return text == "" and found is None
    try:
        expected = Decimal(text)
    except ArithmeticError:
        return text == str(found)
    return abs(Decimal(str(found)) - expected) <= max(Decimal("0.0005"), abs(expected) / 1_000_000)


def test_controls_hold_and_nothing_is_an_error(worked: duckdb.DuckDBPyConnection) -> None:
    assert rows(worked, "select count(*) as checks from result.controls where control = 'K5'") == [{"checks": 2}]
    assert not failed_controls(worked)
    assert not rows(worked, "select * from result.problems where severity = 'error'")


def test_the_quarter_so_far_is_the_days_times_the_rate(worked: duckdb.DuckDBPyConnection) -> None:
    # 26 U.S.C. 5051(a)(2)(A): $3.50 a barrel on the first 60,000; 27 CFR 25.163: rounded once, half up.
    with (FOLDER / "expected" / "removals_by_day.csv").open(encoding="utf-8", newline="") as file:
        barrels = sum(Decimal(row["taxable_bbl"]) for row in csv.DictReader(file))
    [duty] = rows(worked, "select * from result.duty where area = 'US'")
    assert duty["quantity"] == barrels
    assert duty["amount"] == (barrels * Decimal("3.5")).quantize(Decimal("0.01"), "ROUND_HALF_UP")
    assert duty["period"] == "2026-Q1"
