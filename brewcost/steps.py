"""The SQL files under sql/: find them, read their headers, bind their parameters, run them in order.

Each file makes one table. It opens with a header of comments (table, grain, key, units, reads, rule, source) that is
checked here and stored with the table, so that the database explains itself.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property
from graphlib import TopologicalSorter
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from brewcost.places import sql_dir

if TYPE_CHECKING:
    import duckdb

HEADER_FIELDS = ("table", "grain", "key", "units", "reads", "rule", "source")
SCHEMAS = ("reference", "record", "volume", "cost", "excise", "result", "closing", "control", "report")
MACROS = "macros"  # what a file of macros says in the place of its table
ROOMS = "schemas"  # and a file of schemas
_COMMENT = re.compile(r"--[^\n]*")
_WORD = re.compile(r"\w+")
NAME = re.compile(rf"\b(?:(?:{'|'.join(SCHEMAS)})\.\w+|given_(?!away\b)\w+)\b")  # given_away is a purpose
_CHANGED = re.compile(rf"\b(?:insert into|delete from|update)\s+((?:{'|'.join(SCHEMAS)})\.\w+)")
_MACRO = re.compile(r"create or replace macro (\w+)")
_HEADER_LINE = re.compile(r"--\s*(\w+)\s*:\s*(.+)")


class Kept(Protocol):
    """What of an earlier run may stay (`reuse.Kept`)."""

    def holds(self, con: duckdb.DuckDBPyConnection, step: Step, parameters: Mapping[str, object]) -> bool: ...

    def made(self, con: duckdb.DuckDBPyConnection, step: Step) -> None: ...


class StepError(RuntimeError):
    """A file under sql/ is not as it must be, or failed while it ran: a fault of the program, never of the records."""


@dataclass(frozen=True, eq=False)
class Step:
    """One SQL file: the table it makes (`schema.name`, or `macros`), its header and its text."""

    path: Path
    header: Mapping[str, str]
    text: str

    @property
    def table(self) -> str:
        return self.header["table"]

    @cached_property
    def code(self) -> str:
        """The text without its comments."""
        return _COMMENT.sub("", self.text)


@cache
def read(path: Path) -> Step:
    """Read one SQL file.

    Raises:
        StepError: a header line is missing.
    """
    text = path.read_text(encoding="utf-8")
    header: dict[str, str] = {}
    last = ""
    for line in text.splitlines():
        if not line.startswith("--"):
            break
        match = _HEADER_LINE.match(line)
        if match and match[1] in HEADER_FIELDS:
            last = match[1]
            header[last] = match[2].strip()
        elif last:
            header[last] += " " + line.removeprefix("--").strip()
    missing = [name for name in HEADER_FIELDS if name not in header]
    if missing:
        raise StepError(f"{path.name}: the header lacks {', '.join(missing)}")
    return Step(path, header, text)


def folders() -> list[str]:
    """The folders of SQL files in build order."""
    return sorted(path.name for path in sql_dir().iterdir() if path.is_dir())


def paths(chosen: Sequence[str] | None = None) -> list[Path]:
    """Every SQL file in build order, or those of the named folders (`"20_records"` ...)."""
    names = folders() if chosen is None else chosen
    return [path for name in names for path in sorted((sql_dir() / name).glob("*.sql"))]


def find(chosen: Sequence[str] | None = None) -> list[Step]:
    """The same, read."""
    return [read(path) for path in paths(chosen)]


@cache
def macros() -> dict[str, frozenset[str]]:
    """The macros, and the tables each reads, itself or by another."""
    found: dict[str, frozenset[str]] = {}
    for step in find():
        if step.table == MACROS:
            found |= dict.fromkeys(_MACRO.findall(step.code), _named(step, found))
    return found


@cache
def reads(step: Step) -> frozenset[str]:
    """The tables and frames (`given_*`) that a step reads, itself or by a macro."""
    return _named(step, macros()) - {step.table}


@cache
def changes(step: Step) -> frozenset[str]:
    """The tables that a step changes besides its own."""
    return frozenset(_CHANGED.findall(step.code)) - {step.table}


def _named(step: Step, known: Mapping[str, frozenset[str]]) -> frozenset[str]:
    called = known.keys() & set(_WORD.findall(step.code))
    return frozenset(NAME.findall(step.code)).union(*(known[name] for name in called))


def run(
    con: duckdb.DuckDBPyConnection,
    parameters: Mapping[str, object],
    folders: Sequence[str] | None = None,
    progress: Callable[[str], None] | None = None,
    kept: Kept | None = None,
) -> None:
    """Run the SQL files, binding to each statement only the `$parameters` it names.

    Two run at once where neither needs the other, since most of a short step is planning, which takes one core. What comes
    out is what running them one by one in their order gives.

    Args:
        con: an open database, outside a transaction, the frames the files read registered as `given_*`.
        parameters: values for the `$names` in the files.
        folders: only these folders of sql/; all where None.
        progress: told the name of each table before it is made, by either of the two.
        kept: knows which tables are there already.

    Raises:
        StepError: a statement failed; the message names the file.
    """
    turns = _Turns(find(folders))

    def work(con: duckdb.DuckDBPyConnection, frames: bool) -> None:
        try:
            while step := turns.begin(frames):
                if not (kept and kept.holds(con, step, parameters)):
                    if progress:
                        progress(step.table)
                    _run(con, step, parameters)
                    if kept:
                        kept.made(con, step)
                turns.end(step)
        finally:
            turns.stop()

    # A frame is known to the connection that it was registered with, and to no other.
    with con.cursor() as beside, ThreadPoolExecutor(1) as pool:
        second = pool.submit(work, beside, False)
        try:
            work(con, True)
        except BaseException:
            beside.interrupt()
            raise
    second.result()


def _run(con: duckdb.DuckDBPyConnection, step: Step, parameters: Mapping[str, object]) -> None:
    import duckdb

    try:
        for statement in con.extract_statements(step.text):
            con.execute(statement, {name: parameters[name] for name in statement.named_parameters} or None)
        if step.table not in (MACROS, ROOMS):
            comment = "; ".join(f"{name}: {step.header[name]}" for name in HEADER_FIELDS[1:])
            con.execute(f"comment on table {step.table} is '{comment.replace(chr(39), chr(39) * 2)}'")
    except (duckdb.Error, KeyError) as error:
        raise StepError(f"{step.path.parent.name}/{step.path.name}: {error}") from error


class _Turns:
    """Whose turn it is, for two that work beside each other."""

    def __init__(self, todo: Sequence[Step]) -> None:
        self._todo = todo
        self._order = TopologicalSorter(needs(todo))
        self._order.prepare()
        self._ready = set(self._order.get_ready())
        self._changed = threading.Condition()
        self._stopped = False

    def begin(self, frames: bool) -> Step | None:
        """A step that can be run, waited for where there is none; None at the end.

        Args:
            frames: whether it may be one that reads frames.
        """
        with self._changed:
            while not self._stopped and self._order.is_active():
                mine = [place for place in self._ready if frames or not _frames(self._todo[place])]
                if mine:
                    # Who may read frames begins with them: some take long to make, and the other has enough to do meanwhile.
                    place = min(mine, key=lambda place: (not _frames(self._todo[place]), place))
                    self._ready.remove(place)
                    return self._todo[place]
                self._changed.wait()
        return None

    def end(self, step: Step) -> None:
        with self._changed:
            self._order.done(self._todo.index(step))
            self._ready.update(self._order.get_ready())
            self._changed.notify_all()

    def stop(self) -> None:
        with self._changed:
            self._stopped = True
            self._changed.notify_all()


def needs(todo: Sequence[Step]) -> dict[int, set[int]]:
    """For the place of each step, the places of those that come first: they make or change what it reads, or read what it
    changes."""
    found: dict[int, set[int]] = {}
    made: dict[str, set[int]] = {}
    read: dict[str, set[int]] = {}
    for place, step in enumerate(todo):
        uses = reads(step) | (macros().keys() & set(_WORD.findall(step.code))) | {ROOMS}
        alters = changes(step) | set(_MACRO.findall(step.code) if step.table == MACROS else [step.table])
        found[place] = set().union(
            *(made.get(name, ()) for name in uses), *(read.get(name, ()) for name in alters)
        ) - {place}
        for name in uses:
            read.setdefault(name, set()).add(place)
        for name in alters:
            made.setdefault(name, set()).add(place)
    return found


def _frames(step: Step) -> bool:
    return any(name.startswith("given_") for name in reads(step))
