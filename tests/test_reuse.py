"""What is not computed again: books made from the last run's are, to the last digit, those made from nothing."""

from __future__ import annotations

import shutil
from pathlib import Path
from random import Random

import duckdb
import pytest
from small_books import lines

from brewcost import areas, closing, pipeline, records, reuse, steps
from brewcost import books as books_module
from brewcost.area_model import AreaError
from brewcost.books import Books

WORKED = Path(__file__).parent / "worked_months"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The worked months with their books made."""
    made = tmp_path_factory.mktemp("reuse") / "books"
    shutil.copytree(WORKED, made)
    pipeline.build(Books(made))
    return made


def content(database: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, in an order of its own."""
    with duckdb.connect(str(database), read_only=True) as con:
        names = con.execute("select schema_name, table_name from duckdb_tables() where schema_name <> 'main'").fetchall()
        return {
            f"{schema}.{name}": sorted(con.execute(f"from {schema}.{name}").fetchall(), key=repr) for schema, name in names
        }


def rerun(folder: Path, tmp_path: Path) -> tuple[dict[str, str], dict[str, str]]:
    """Make the books again from the last ones and from nothing, demand the same rows; when each step was last made."""
    before = made_by(folder)
    pipeline.build(Books(folder))
    fresh = tmp_path / "fresh"
    shutil.copytree(folder, fresh, ignore=shutil.ignore_patterns("*.duckdb"))
    pipeline.build(Books(fresh))
    again, new = content(folder / "brewcost.duckdb"), content(fresh / "brewcost.duckdb")
    assert again.keys() == new.keys()
    assert [name for name in new if again[name] != new[name]] == []
    shutil.rmtree(fresh)
    return before, made_by(folder)


def made_by(folder: Path) -> dict[str, str]:
    with duckdb.connect(str(folder / "brewcost.duckdb"), read_only=True) as con:
        return dict(con.execute("select made, key from made_by").fetchall())


def some_change(chance: Random, folder: Path) -> str:
    """Change something somewhere in the records, as people do: a row gone, doubled, moved, a figure mistyped."""
    path = chance.choice(sorted((folder / "inputs").glob("*.csv")))
    row = chance.randrange(1, len(path.read_text(encoding="utf-8").splitlines()))
    what = chance.choice(["gone", "doubled", "last", "mistyped", "blank line"])

    def change(rows: list[str]) -> list[str]:
        if what == "gone":
            return rows[:row] + rows[row + 1 :]
        if what == "doubled":
            return [*rows, rows[row]]
        if what == "last":
            return [*rows[:row], *rows[row + 1 :], rows[row]]
        if what == "mistyped":
            places = [place for place, letter in enumerate(rows[row]) if letter.isdigit()]
            if places:
                at = chance.choice(places)
                rows[row] = rows[row][:at] + str(chance.randrange(10)) + rows[row][at + 1 :]
            return rows
        return [*rows, ""]

    lines(path, change)
    return f"{path.name} row {row + 1}: {what}"


@pytest.mark.parametrize("seed", range(5))
def test_after_any_change_the_books_are_those_made_from_nothing(folder: Path, tmp_path: Path, seed: int) -> None:
    """One change upon another, so that what was kept is kept again."""
    chance = Random(seed)
    said = [some_change(chance, folder) for _ in range(chance.randrange(1, 3))]
    before, after = rerun(folder, tmp_path)
    assert before.keys() == after.keys(), said


def test_a_change_reaches_only_what_depends_on_it(folder: Path, tmp_path: Path) -> None:
    """An expense is a cost: no volume, no duty and no comparison of tanks is computed again for it."""
    path = folder / "inputs" / "expenses.csv"
    lines(path, lambda rows: [*rows[:-1], rows[-1].replace(rows[-1].split(",")[3], "1234.50")])
    before, after = rerun(folder, tmp_path)
    changed = {name for name in after if after[name] != before[name]}
    assert {"record.expenses", "cost.pool_months", "report.close_figures"} <= changed
    assert not [name for name in changed if name.startswith(("volume.", "excise.", "reference."))]
    assert len(changed) < len(after) / 2


def test_an_area_file_of_the_brewery_is_read_with_every_run(folder: Path, tmp_path: Path) -> None:
    """The shipped files are part of the program; what the brewery says in their place is looked at, faults too."""
    own = folder / "areas" / "US-ME.toml"
    own.parent.mkdir()
    text = (areas.SHIPPED / own.name).read_text(encoding="utf-8")
    own.write_text(text.replace('edition = "', 'edition = "our copy of '), encoding="utf-8")
    before, after = rerun(folder, tmp_path)
    assert {"reference.areas"} <= {name for name in after if after[name] != before[name]}
    own.write_text(text.replace("edition =", "editoin ="), encoding="utf-8")
    with pytest.raises(AreaError, match=r"areas/US-ME.toml: edition is missing"):
        pipeline.build(Books(folder))
    assert made_by(folder) == after
    shutil.rmtree(own.parent)
    assert rerun(folder, tmp_path)[1] == before


def test_many_rows_are_handed_over_as_few_are(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As tables of the database that is being made, of which nothing stays in it."""
    again = tmp_path / "books"
    shutil.copytree(folder, again, ignore=shutil.ignore_patterns("*.duckdb"))
    monkeypatch.setattr(records, "MANY", 10)
    pipeline.build(Books(again))
    few, many = content(folder / "brewcost.duckdb"), content(again / "brewcost.duckdb")
    assert few.keys() == many.keys()
    assert [name for name in few if few[name] != many[name]] == []


def test_closing_and_reopening_give_the_books_made_from_nothing(tmp_path: Path) -> None:
    """A closed month stands as it was frozen: tables of results are changed in place, and must not be taken for computed."""
    folder = tmp_path / "books"
    shutil.copytree(WORKED, folder)
    pipeline.build(Books(folder))
    closing.close(Books(folder), "2026-01", "A")
    rerun(folder, tmp_path)
    late = folder / "inputs" / "labour.csv"
    lines(late, lambda rows: [*rows, "2026-01-20,main,brewhouse,3,99,W0003,,"])
    rerun(folder, tmp_path)
    corrections = content(folder / "brewcost.duckdb")["result.corrections"]
    assert corrections
    closing.close(Books(folder), "2026-02", "A")
    rerun(folder, tmp_path)
    assert content(folder / "brewcost.duckdb")["result.corrections"] == corrections
    for month in ("2026-02", "2026-01"):
        closing.reopen(Books(folder), month, "A", "a bill was forgotten")
        rerun(folder, tmp_path)
    assert not content(folder / "brewcost.duckdb")["result.corrections"]
    lines(late, lambda rows: rows[:-1])
    rerun(folder, tmp_path)


def test_books_of_another_program_are_not_built_upon(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(books_module, "program", lambda: "another")
    with Books(folder).rebuilding() as con:
        assert con.execute("select count(*) from duckdb_tables()").fetchall() == [(0,)]
        kept = reuse.Kept(con, "another", closed=False)
        assert not kept.holds(con, steps.find(["10_reference"])[-1], {}) and not kept.held
