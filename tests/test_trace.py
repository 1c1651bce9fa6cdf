"""`explain`: every tree adds up at every level and ends in records, on the invented worked months and the sample brewery."""

from __future__ import annotations

import shutil
from pathlib import Path

import duckdb
import pytest
from explained import FIGURES, HOUSES, LABOUR, held
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


# The worked months have neither standards nor serving tanks.
NOT_IN_WORKED = {"serving tanks", "purchase variances"} | {
    name for name in FIGURES if name.startswith(("usage", "mix", "yield"))
}  # fmt: skip


@pytest.mark.parametrize("table", FIGURES)
def test_the_tree_of_every_figure_begins_with_it_adds_up_at_every_level_and_ends_in_records(
    con: duckdb.DuckDBPyConnection, table: str
) -> None:
    assert held(con, FIGURES[table]) or table in NOT_IN_WORKED


@pytest.fixture(scope="module")
def with_standards(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    """The sample brewery with standard hours, and with the stock of its own houses counted."""
    folder = tmp_path_factory.mktemp("standards") / "books"
    shutil.copytree(WORKED.parents[1] / "sample_inputs", folder)
    settings = folder / "brewery.toml"
    text = settings.read_text(encoding="utf-8").replace("[costing]", '[costing]\nown_houses = "counted"')
    settings.write_text(text, encoding="utf-8")
    (folder / "inputs" / "standards-hours.csv").write_text(
        "beer,stage,allowed_loss_pct,hours_per_bbl,hourly_rate,from_month\n*,kettle,5,0.4,26,2026-01\n"
        "*,fermenter,4,0.2,25,2026-01\n*,packaging,2,0.3,24,2026-01\n", encoding="utf-8")  # fmt: skip
    return compute(folder)


@pytest.mark.parametrize("query", [*LABOUR.values(), HOUSES], ids=[*LABOUR, "own houses"])
def test_labour_and_own_houses_are_explained_where_there_are_standards_and_counts(
    with_standards: duckdb.DuckDBPyConnection, query: str
) -> None:
    assert held(with_standards, query)


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
