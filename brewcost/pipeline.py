"""Load, compute, control: the whole of a set of books, all of it or none."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from brewcost import (
    __version__,
    acceptances,
    areas,
    areas_frames,
    closing,
    records,
    settings,
    settings_frames,
    statistics,
    steps,
)
from brewcost.books import Books, BooksError, program
from brewcost.problems import COLUMNS, ERROR, Problem, from_rows
from brewcost.reuse import Kept
from brewcost.settings_model import Settings

if TYPE_CHECKING:
    import duckdb

REPORTS = "80_report"  # the folder of sql/ that is run when the statistics of the results are there

Progress = Callable[[str], None]
VOLUMES = "30_volume"  # the first folder of sql/ that computes; what-if changes the records before it
Change = Callable[["duckdb.DuckDBPyConnection"], None]


@dataclass(frozen=True)
class Outcome:
    """What a run found: the findings that are open, the failed controls, the months that have records."""

    problems: tuple[Problem, ...]
    controls: int
    failed_controls: int
    months: tuple[str, ...]
    accepted: int = 0  # warnings that somebody accepted; they are not among the findings

    @property
    def good(self) -> bool:
        """No finding of severity error and no failed control."""
        return not self.failed_controls and not any(problem.severity == ERROR for problem in self.problems)


def build(books: Books, progress: Progress = lambda step: None) -> Outcome:
    """Read everything in the folder, compute what changed since the last run and replace its database.

    Args:
        books: the folder.
        progress: told what is being done.

    Raises:
        BooksError: the folder has no inputs, or its database cannot be replaced.
        SettingsError, AreaError: brewery.toml or an area file cannot be used.
        ClosingError: the folder closed/ is not as `close` left it.
        StepError: a fault of the program.
    """
    chosen = settings.load(books.settings)
    if not books.inputs.is_dir():
        raise BooksError(f"{books.inputs} is missing; put the records there")
    progress("looking for changes")
    try:
        fingerprint = books.fingerprint()
    except OSError:
        fingerprint = ""  # a file that cannot be read is a finding; the records layer says which
    if fingerprint and books.is_current(fingerprint):
        with books.reading() as con:
            return outcome(con)
    closing.remembered(books)
    earlier = books.step_seconds()
    with books.rebuilding() as con:
        kept = Kept(con, program(), bool(closing.read(books)))
        course = Course(progress, earlier, kept)
        compute(con, books, chosen, course, fingerprint, kept=kept)
        course("")
        kept.write()
        took = earlier | course.seconds
        con.execute("create or replace table step_seconds as select unnest($steps) as step, unnest($seconds) as seconds",
                    {"steps": list(took), "seconds": list(took.values())})  # fmt: skip
        return outcome(con)


class Course:
    """How far a run is and, by what each step took the last time, how long it has to go.

    Args:
        tell: told what is being done, how far the run is, and how long to go. No step ends the run.
        earlier: seconds by step of the run before; empty where there was none.
        kept: knows how many steps need not be run.
    """

    def __init__(self, tell: Progress, earlier: Mapping[str, float], kept: Kept | None = None) -> None:
        self.tell, self.earlier, self.kept = tell, earlier, kept
        self.seconds: dict[str, float] = {}
        self.begun, self.total = 0, len(steps.paths()) + 2  # and reading, and the statistics
        self.doing, self.since = "", time.perf_counter()
        self._one = threading.Lock()

    def __call__(self, step: str) -> None:
        with self._one:  # two steps are run at once
            self._note(step)

    def _note(self, step: str) -> None:
        now = time.perf_counter()
        if self.doing:
            self.seconds[self.doing] = self.seconds.get(self.doing, 0.0) + now - self.since
        self.doing, self.since = step, now
        if not step:
            return
        text = f"{step}, {self.begun + (self.kept.held if self.kept else 0)} of {self.total}"
        self.begun += 1
        known = sum(self.earlier.get(done, 0.0) for done in self.seconds)
        if known > 0.5:
            # What is left took so long the last time; the records may be more by now, or the machine busier.
            left = sum(seconds for name, seconds in self.earlier.items() if name not in self.seconds)
            text += f", about {left * sum(self.seconds.values()) / known:.0f} s to go"
        self.tell(text)


def compute(
    con: duckdb.DuckDBPyConnection,
    books: Books,
    chosen: Settings,
    progress: Progress = lambda step: None,
    fingerprint: str = "",
    changed: Change | None = None,
    kept: Kept | None = None,
    frozen: bool = True,
) -> None:
    """Fill an empty database from the records of a folder; raises as `build` does.

    Args:
        changed: given the database when `reference` and `record` are filled and nothing is computed from them yet.
        kept: knows what a copy of the last run's database holds; None: the database is empty.
        frozen: closed months show what was frozen; else what the records give now.
    """
    settings_frames.register(con, chosen)
    progress("reading the records")
    records.register(con, books.folder, chosen)
    law = partial(areas.register, con, books.folder, chosen)
    if kept is None:
        law()
    else:
        kept.supply(areas_frames, law, areas.made_from(books.folder, chosen), at_once=True)
    acceptances.register(con, books.folder)
    closed = closing.read(books) if frozen else ()
    # No transaction: the file is thrown away unless all of it is made, and a table that is written can leave memory. No
    # table relies on the order in which its rows were put in, so it need not be kept.
    con.execute("set preserve_insertion_order = false")
    run_steps(con, {"version": __version__, "fingerprint": fingerprint}, closed, progress, changed, kept)


def run_steps(
    con: duckdb.DuckDBPyConnection,
    parameters: Mapping[str, object],
    closed: Sequence[closing.Closed] = (),
    progress: Progress = lambda step: None,
    changed: Change | None = None,
    kept: Kept | None = None,
) -> None:
    """Run the SQL folder by folder; what Python adds between two folders is added before the one that reads it."""

    def compare(con: duckdb.DuckDBPyConnection) -> None:
        progress("comparing the losses")
        statistics.register(con)

    before: dict[str, Change] = {
        # What was frozen has the columns of the result tables, so it is handed over when those are there.
        closing.FOLDER: lambda con: closing.register(con, closed),
        REPORTS: compare if kept is None else lambda con: kept.supply(statistics, partial(compare, con)),
    }
    if changed is not None:
        before[VOLUMES] = changed
    folders = steps.folders()
    bounds = [0, *(folders.index(folder) for folder in sorted(before)), len(folders)]
    for begin, end in pairwise(bounds):
        if folders[begin] in before:
            before[folders[begin]](con)
        steps.run(con, parameters, folders[begin:end], progress, kept)


def outcome(con: duckdb.DuckDBPyConnection) -> Outcome:
    """What the computed books in an open database say."""
    problems = con.execute(
        "select severity, code, month, file, sheet, row, field, value, expected, message, action, depends_on "
        "from result.open_problems "
        "order by file nulls first, sheet nulls first, row, field, code, value, message"
    ).fetchall()
    assert len(COLUMNS) == 12  # the columns above, in the order of a Problem
    counted = con.execute("select count(*), count(*) filter (where not holds) from result.controls").fetchall()
    controls, failed = counted[0]
    months = con.execute("select month from record.months order by month").fetchall()
    every = con.execute("select count(*) from result.problems").fetchall()[0][0]
    return Outcome(tuple(from_rows(problems)), controls, failed, tuple(month for (month,) in months), every - len(problems))
