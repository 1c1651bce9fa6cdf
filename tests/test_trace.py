"""`explain`: every tree adds up at every level and ends in records, on the invented worked months and the sample brewery."""

from __future__ import annotations

import shutil
from decimal import Decimal
from pathlib import Path

import duckdb
import pytest
from small_books import compute, one

from brewcost import trace

WORKED = Path(__file__).parent / "worked_months"


@pytest.fixture(scope="module", params=["worked months", "sample brewery"])
def con(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    if request.param == "sample brewery":
        return compute(WORKED.parents[1] / "sample_inputs")
    folder = tmp_path_factory.mktemp("trace") / "books"
    shutil.copytree(WORKED, folder, ignore=shutil.ignore_patterns("expected"))
    return compute(folder)


def walk(node: trace.Node) -> int:
    """Check a tree; the number of its leaves. Every leaf is a record."""
    if not node.parts:
        assert (node.file and node.row) or not node.amount, f"{node.what} {node.amount} has no record"
        return 1
    assert sum((part.amount for part in node.parts), Decimal(0)) == node.amount, node.what
    return sum(walk(part) for part in node.parts)


# The figures of the result tables that a form of `explain` names: the words, and the figure.
FIGURES = {
    "brews": "select ['brew', brew], sum(cost) from cost.brew_costs group by all having sum(cost) <> 0",
    "run_costs": "select ['run', run], sum(total_cost + abnormal_cost) from cost.run_costs group by all",
    "lot_months": "select ['lot', lot], sum(added_cost) + coalesce(sum(opening_cost) filter (month = '2026-01'), 0) "
                  "from result.lot_months group by all having sum(added_cost + opening_cost) <> 0",
    "removals": "select ['shipment', document], sum(cost) from cost.shipment_costs where kind = 'shipment' "
                "group by all having sum(cost) <> 0",
    "serving tanks": "select ['move', document], sum(cost) from cost.shipment_costs where kind = 'serving_tank' "
                     "group by all having sum(cost) <> 0",
    "goods_months": "select ['goods', beer, package, month], sum(closing_cost) from result.goods_months group by all",
    "material_months": "select ['material', material, month], sum(closing_cost) from result.material_months group by all",
    "period_expenses": "select ['expense', kind, month], sum(amount) from result.period_expenses group by all "
                       "having sum(amount) <> 0",
    "duty": "select ['duty', area, period], sum(amount) from result.duty group by all having sum(amount) > 0",
}  # fmt: skip


@pytest.mark.parametrize("table", FIGURES)
def test_the_tree_of_every_figure_begins_with_it_adds_up_at_every_level_and_ends_in_records(
    con: duckdb.DuckDBPyConnection, table: str
) -> None:
    tracer = trace.Tracer(con)
    figures = con.execute(FIGURES[table]).fetchall()
    assert figures or table == "serving tanks"
    for words, figure in figures:
        tree = tracer.explain(words)
        assert tree.amount == figure, words
        walk(tree)


def test_the_leaves_of_a_brew_are_its_records(con: duckdb.DuckDBPyConnection) -> None:
    brew = one(con, "select min(brew) from volume.brews")
    said = trace.explain(con, ("brew", brew)).as_json()
    materials = [part for part in said["parts"] if part["what"].startswith("use ")]
    assert len(materials) == one(con, "select count(*) from record.uses where brew = ?", [brew])
    assert all(part["row"] > 1 and "share_pct" in part for part in materials)
    # Behind each use stands what was received, or there when the books began.
    behind = {leaf["what"].split()[0] for part in materials for leaf in part["parts"]}
    assert behind and behind <= {"receipt", "opening", "invoice", "count", "stock"}


def test_what_is_not_there_is_said(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(trace.TraceError, match="no lot 'L99999'"):
        trace.explain(con, ("lot", "L99999"))
    with pytest.raises(trace.TraceError, match="say one of: lot NAME"):
        trace.explain(con, ("tank", "F1"))
