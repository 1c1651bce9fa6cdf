"""Steps that run beside each other: the books are those of running them one by one, in whatever order is allowed."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping, Sequence
from graphlib import TopologicalSorter
from pathlib import Path

import duckdb
import pytest
from small_books import lines

from brewcost import closing, pipeline, steps
from brewcost.books import Books

WORKED = Path(__file__).parent / "worked_months"

Order = Callable[[Sequence[steps.Step]], list[steps.Step]]


def latest_first(todo: Sequence[steps.Step]) -> list[steps.Step]:
    """An order that keeps to what each step needs and is otherwise as far from that of the files as it can be."""
    order = TopologicalSorter(steps.needs(todo))
    order.prepare()
    chosen, ready = [], list(order.get_ready())
    while ready:
        ready.remove(place := max(ready))
        chosen.append(todo[place])
        order.done(place)
        ready.extend(order.get_ready())
    return chosen


def content_in(order: Order, folder: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, list[tuple[object, ...]]]:
    def run(con: duckdb.DuckDBPyConnection, parameters: Mapping[str, object], folders: Sequence[str], *_: object) -> None:
        for step in order(steps.find(folders)):
            for statement in con.extract_statements(step.text):
                con.execute(statement, {name: parameters[name] for name in statement.named_parameters} or None)

    with monkeypatch.context() as patched, duckdb.connect() as con:
        patched.setattr(steps, "run", run)
        pipeline.compute(con, Books(folder), pipeline.settings.load(Books(folder).settings))
        names = con.execute("select schema_name || '.' || table_name from duckdb_tables() where not temporary").fetchall()
        return {name: sorted(con.execute(f"from {name}").fetchall(), key=repr) for (name,) in names}


def test_what_a_step_needs_is_all_that_its_place_in_the_order_gives_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a closed month and a late record, so that tables of results are changed in place."""
    folder = tmp_path / "books"
    shutil.copytree(WORKED, folder)
    pipeline.build(Books(folder))
    closing.close(Books(folder), "2026-01", "A")
    lines(folder / "inputs" / "labour.csv", lambda rows: [*rows, "2026-01-20,main,brewhouse,3,99,W0003,,"])
    by_path, latest = (content_in(order, folder, monkeypatch) for order in (list, latest_first))
    assert by_path["result.corrections"]
    assert latest_first(steps.find()) != steps.find()
    assert by_path.keys() == latest.keys()
    assert [name for name in by_path if by_path[name] != latest[name]] == []


def test_what_changes_a_table_waits_for_its_readers_and_later_readers_wait_for_it(tmp_path: Path) -> None:
    texts = {
        "result.t": "create table result.t as select 1 as one",
        "result.before": "create table result.before as from result.t",
        "closing.frozen": "create table closing.frozen as select 2 as one; insert into result.t from closing.frozen",
        "result.after": "create table result.after as from result.t",
    }
    todo = [steps.Step(tmp_path / name, {"table": name}, text) for name, text in texts.items()]
    assert steps.needs(todo) == {0: set(), 1: {0}, 2: {0, 1}, 3: {0, 2}}


@pytest.mark.parametrize("reads", ["", "given_rows"])
def test_a_step_that_fails_beside_another_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reads: str) -> None:
    """Whichever of the two connections it fails on: only the first knows frames."""
    header = "".join(f"-- {name}: none\n" for name in steps.HEADER_FIELDS if name != "table")
    room = tmp_path / "10_reference"
    room.mkdir()
    for place in range(6):
        code = f"create table reference.t{place} as select 1 as one" if place != 3 else f"from {reads or 'nowhere'}, nothing"
        (room / f"{place}.sql").write_text(f"-- table: reference.t{place}\n{header}{code};\n", encoding="utf-8")
    steps.macros()  # those of the program, which are remembered
    monkeypatch.setattr(steps, "sql_dir", lambda: tmp_path)
    with duckdb.connect() as con:
        con.execute("create schema reference")
        with pytest.raises(steps.StepError, match=r"10_reference/3\.sql: Catalog Error"):
            steps.run(con, {})
