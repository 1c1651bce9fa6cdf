"""The statement of operations (X8) of the worked months: both sides, the published cross-checks, the stock in the books."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import duckdb
import pytest
from small_books import compute

CENT = Decimal("0.01")


@pytest.fixture(scope="module")
def worked() -> duckdb.DuckDBPyConnection:
    return compute(Path(__file__).parent / "worked_months")


def one(con: duckdb.DuckDBPyConnection, query: str) -> Decimal:
    return Decimal(con.execute(query).fetchall()[0][0])


def test_every_published_cross_check_holds(worked: duckdb.DuckDBPyConnection) -> None:
    """TTB, Helpful Hints in Preparing Form 5130.9."""
    rows = worked.execute("select check_no, holds, count(*) from excise.operation_checks group by all").fetchall()
    assert {number for number, _, _ in rows} == {1, 3, 4, 5, 6, 7, 8}
    assert [row for row in rows if not row[1]] == []


@pytest.mark.parametrize("month", ["2026-01", "2026-02"])
def test_what_is_on_hand_agrees_with_the_books(worked: duckdb.DuckDBPyConnection, month: str) -> None:
    """Two roads to one stock: line 33 from the rounded lines, and the lots and goods of the cost side."""
    cellar = one(
        worked,
        "select sum(closing_bbl) from result.lot_months join record.beers using (beer)"
        f" where tax_class = 'beer' and month = '{month}'",
    )
    goods = one(
        worked,
        "select sum(closing_bbl) from result.goods_months join record.beers using (beer)"
        f" where tax_class = 'beer' and month = '{month}'",
    )
    line = f"select sum(bbl) from excise.operations where form_line = 33 and period = '{month}' and form_column"
    assert abs(one(worked, f"{line} = 'cellar'") - cellar) <= 3 * CENT
    assert abs(one(worked, f"{line} in ('racking keg', 'bottling case')") - goods) <= 6 * CENT
    assert one(worked, f"{line} in ('racking bulk', 'bottling bulk')") == 0


def test_figures_have_two_decimals_and_overage_and_shortage_stand_apart(worked: duckdb.DuckDBPyConnection) -> None:
    rows = worked.execute("select form_line, form_column, bbl from excise.operations where period = '2026-01'").fetchall()
    assert all(bbl == round(bbl, 2) and bbl >= 0 for _, _, bbl in rows)
    shortage = {column: bbl for line, column, bbl in rows if line == 31}
    counted = worked.execute(
        "select form, -sum(counted_bbl) from result.goods_months join record.packages using (package)"
        " join record.beers using (beer) where month = '2026-01' and tax_class = 'beer' and counted_bbl < 0 group by form"
    ).fetchall()
    names = {"keg": "racking keg", "bottled": "bottling case"}
    assert {names[form]: round(bbl, 2) for form, bbl in counted} == {k: v for k, v in shortage.items() if k != "total"}


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("excise.removals", "document, line, kind"),
        ("excise.charges", "document, line, kind, area"),
        ("excise.removal_duty", "document, line, kind, area"),
        ("result.removal_duty", "document, line, kind, area"),
    ],
)
def test_the_large_tables_without_an_index_have_no_key_twice(
    worked: duckdb.DuckDBPyConnection, table: str, key: str
) -> None:
    found = worked.execute(f"select count(*) > 0, count(*) = count(distinct ({key})) from {table}").fetchall()
    assert found == [(True, True)]
