"""`explain`: every tree adds up at every level and ends in records, on the invented worked months."""

from __future__ import annotations

import shutil
from decimal import Decimal
from pathlib import Path

import duckdb
import pytest
from small_books import compute, one

from brewcost import trace

WORKED = Path(__file__).parent / "worked_months"


@pytest.fixture(scope="module")
def con(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    folder = tmp_path_factory.mktemp("trace") / "books"
    shutil.copytree(WORKED, folder, ignore=shutil.ignore_patterns("expected"))
    return compute(folder)


def walk(node: trace.Node) -> int:
    """Check a tree; the number of its leaves."""
    if not node.parts:
        return 1
    assert sum((part.amount for part in node.parts), Decimal(0)) == node.amount, node.what
    return sum(walk(part) for part in node.parts)


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        ("brew", "select brew from volume.brews"),
        ("lot", "select distinct to_name from result.cost_flows where to_kind = 'lot'"),
        ("run", "select distinct run from cost.run_costs where total_cost > 0"),
        ("shipment", "select distinct document from cost.shipment_costs where kind = 'shipment' and cost > 0"),
    ],
)
def test_every_tree_adds_up_at_every_level(con: duckdb.DuckDBPyConnection, kind: str, names: str) -> None:
    found = [name for (name,) in con.execute(names).fetchall()]
    assert found
    for name in found:
        assert walk(trace.explain(con, (kind, name))) >= 1


def test_a_tree_begins_with_the_figure_it_explains(con: duckdb.DuckDBPyConnection) -> None:
    for document, cost in con.execute("select document, sum(cost) from cost.shipment_costs where kind = 'shipment' "
                                      "group by document").fetchall():  # fmt: skip
        if cost > 0:
            assert trace.explain(con, ("shipment", document)).amount == cost
    for brew, cost in con.execute("select brew, sum(cost) from cost.brew_costs group by brew").fetchall():
        assert trace.explain(con, ("brew", brew)).amount == cost
    for run, cost in con.execute("select run, sum(total_cost + abnormal_cost) from cost.run_costs group by run").fetchall():
        assert trace.explain(con, ("run", run)).amount == cost
    for row in con.execute("select beer, package, sum(closing_cost) from result.goods_months where month = '2026-02' "
                           "group by all").fetchall():  # fmt: skip
        assert trace.explain(con, ("goods", *row[:2], "2026-02")).amount == row[2]
    for area, period, amount in con.execute("select area, period, sum(amount) from result.duty where amount > 0 "
                                            "group by all").fetchall():  # fmt: skip
        assert trace.explain(con, ("duty", area, period)).amount == amount


def test_the_leaves_of_a_brew_are_its_records(con: duckdb.DuckDBPyConnection) -> None:
    brew = one(con, "select min(brew) from volume.brews")
    said = trace.explain(con, ("brew", brew)).as_json()
    materials = [part for part in said["parts"] if part["what"].startswith("use ")]
    assert len(materials) == one(con, "select count(*) from record.uses where brew = ?", [brew])
    assert all(part["file"] == "uses.csv" and part["row"] > 1 and "share_pct" in part for part in materials)


def test_what_is_not_there_is_said(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(trace.TraceError, match="no lot 'L99999'"):
        trace.explain(con, ("lot", "L99999"))
    with pytest.raises(trace.TraceError, match="say one of: lot NAME"):
        trace.explain(con, ("tank", "F1"))
