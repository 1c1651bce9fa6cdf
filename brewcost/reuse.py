"""What need not be computed again: each table is known by what it was made from, and some by their content too.

A step's key is a hash of its SQL, of the parameters it names and of the identity of every table and frame it reads. Where
the key is that of the last run, the table of the last run stays. The identity of a table is its key; where a table that
several steps read was made again and came out with the same rows, it keeps its old identity, so that what follows from it
stays as well. A frame handed over from Python is known by its rows.

Closing changes tables of results in place: a closed month shows what was frozen. Such a table has two states, so from then on
it has another identity; and where a month is closed, now or in the last run, it is made again and changed again.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

from brewcost import steps

if TYPE_CHECKING:
    import duckdb

_PARAMETER = re.compile(r"\$(\w+)")
# Where so many steps read a table, it pays to look whether its rows have changed.
READERS = 3


class Kept:
    """What the last run's database holds, and which of it may stay.

    Args:
        con: a database that is being made again: a copy of the last run's, or an empty one.
        program: a hash of the program, which made what the copy holds.
        closed: whether a month is closed.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, program: str, closed: bool) -> None:
        self.con, self.program, self.closed = con, program, closed
        self._held: set[str] = set()
        self._made: dict[str, str] = {}  # identities of the tables as they were made
        self._identities: dict[str, str] = {}
        self._keys: dict[str, str] = {}
        self._unchanged = not closed  # by any step but their own, in the last run and in this
        self._before: dict[str, str] = {}
        self._suppliers: dict[str, Callable[[], None]] = {}
        self._earlier: dict[str, tuple[str, str]] = {}
        known = con.execute("select 1 from duckdb_tables() where table_name = 'made_by'").fetchall()
        if known:
            for made, key, identity, was_closed in con.execute("select made, key, identity, closed from made_by").fetchall():
                self._earlier[made] = (key, identity)
                self._unchanged &= not was_closed

    @property
    def held(self) -> int:
        """How many steps need not be run."""
        return len(self._held)

    def supply(self, module: ModuleType, make: Callable[[], None], made_from: str = "", at_once: bool = False) -> None:
        """Say how frames are made when a step needs them.

        Args:
            module: registers the frames it names, from the tables it names; all of these have been made.
            make: runs it.
            made_from: what else they are made from.
            at_once: in books made from nothing they are made now, so that what is wrong with them shows before any step is run.
        """
        names = set(steps.NAME.findall(Path(module.__file__ or "").read_text(encoding="utf-8")))
        frames = {name for name in names if name.startswith("given_")}
        for name in frames:
            self._identities[name] = self._key(name, made_from, reads=names - frames)
            self._suppliers[name] = make
        if at_once and not self._earlier:
            self._make(frames)

    def _make(self, names: Iterable[str]) -> None:
        """Have the frames among these names made, if they are not yet."""
        for make in {self._suppliers[name] for name in names if name in self._suppliers}:
            self._suppliers = {name: how for name, how in self._suppliers.items() if how is not make}
            make()

    def holds(self, con: duckdb.DuckDBPyConnection, step: steps.Step, parameters: Mapping[str, object]) -> bool:
        """Whether the step's table is there as this run would make it; where not, it is dropped, to be made.

        A step must be asked about when all it reads is there. Two may be asked about at once, each over a connection of its
        own: nothing is noted of one step that another, not yet begun, could change.
        """
        if step.table == steps.MACROS:
            return False
        named = sorted(set(_PARAMETER.findall(step.code)))
        reads = steps.reads(step)
        key = self._key(step.code, *(f"{name}={parameters.get(name)}" for name in named), reads=reads)
        before, identity = self._earlier.get(step.table, ("", ""))
        self._keys[step.table] = key
        changes = steps.changes(step)
        stays = self._unchanged or not (changes or step.table in _changed())
        self._made[step.table] = self._identities[step.table] = identity if key == before else key
        for table in changes:
            self._identities[table] = self._key(table, reads=[table, step.table])
        if key == before and stays:
            self._held.add(step.table)
            return True
        self._make(reads)
        if identity:
            if stays and _readers()[step.table] >= READERS:
                self._before[step.table] = _rows_of(con, step.table)
            con.execute(f"drop table if exists {step.table}")
        return False

    def made(self, con: duckdb.DuckDBPyConnection, step: steps.Step) -> None:
        """Take note that the step was run: with the same rows as before, its table is the same."""
        before = self._before.pop(step.table, "")
        if before and before == _rows_of(con, step.table):
            self._made[step.table] = self._identities[step.table] = self._earlier[step.table][1]

    def write(self) -> None:
        """Leave word for the next run."""
        made = list(self._keys)
        self.con.execute(
            "create or replace table made_by as select unnest($made) as made, unnest($keys) as key,"
            " unnest($identities) as identity, $program as program, $closed as closed",
            {"made": made, "keys": [self._keys[name] for name in made],
             "identities": [self._made[name] for name in made], "program": self.program, "closed": self.closed},
        )  # fmt: skip

    def _key(self, *texts: str, reads: Iterable[str] = ()) -> str:
        total = hashlib.sha256("\0".join(texts).encode())
        for name in sorted(reads):
            if name not in self._identities:
                self._identities[name] = _rows_of(self.con, name)  # a frame
            total.update(f"\0{name}\0{self._identities[name]}".encode())
        return total.hexdigest()


def _rows_of(con: duckdb.DuckDBPyConnection, name: str) -> str:
    """The rows of a table or frame, in any order, as a number of them and two sums of 64-bit hashes; "" where it is neither."""
    import duckdb

    try:
        hashed = con.execute(
            f"select count(*), sum(hash(one)::hugeint), sum(hash(one, 1)::hugeint) from {name} as one"  # a name of ours
        )
    except duckdb.CatalogException:
        return ""  # a word that looks like a frame: a purpose `given_away`
    return " ".join(map(str, hashed.fetchall()[0]))


@cache
def _readers() -> Counter[str]:
    """How many steps read each table."""
    return Counter(name for step in steps.find() for name in steps.reads(step))


@cache
def _changed() -> frozenset[str]:
    """The tables that a step other than their own changes."""
    return frozenset().union(*map(steps.changes, steps.find()))
