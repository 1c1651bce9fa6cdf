"""What need not be computed again: each table is known by what it was made from, and some by their content too.

A step's key is a hash of its SQL, of the parameters it names and of the identity of every table and frame it reads. Where
the key is that of the last run, the table of the last run stays. The identity of a table is its key; where a table that
several steps read was made again and came out with the same rows, it keeps its old identity, so that what follows from it
stays as well. A frame handed over from Python is known by its rows.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

from brewcost import steps

if TYPE_CHECKING:
    import duckdb

_NAME = re.compile(rf"\b(?:(?:{'|'.join(steps.SCHEMAS)})\.\w+|given_\w+)\b")
_PARAMETER = re.compile(r"\$(\w+)")
_MACRO = re.compile(r"create or replace macro (\w+)")
_COMMENT = re.compile(r"--[^\n]*")
MACROS = "macros"
# Where so many steps read a table, it pays to look whether its rows have changed.
READERS = 3


class Kept:
    """What the last run's database holds, and which of it may stay.

    Args:
        con: a database that is being made again: a copy of the last run's, or an empty one.
        program: a hash of the program; tables of another one are of no use.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, program: str) -> None:
        self.con, self.program = con, program
        self.held = 0  # steps that need not be run
        self._identities: dict[str, str] = {}
        self._keys: dict[str, str] = {}
        self._before: dict[str, str] = {}
        self._suppliers: dict[str, Callable[[], None]] = {}
        self._earlier: dict[str, tuple[str, str]] = {}
        known = con.execute("select 1 from duckdb_tables() where table_name = 'made_by'").fetchall()
        if known:
            rows = con.execute("select made, key, identity from made_by where program = $program", {"program": program})
            self._earlier = {made: (key, identity) for made, key, identity in rows.fetchall()}

    def supply(self, module: ModuleType, make: Callable[[], None]) -> None:
        """Say how frames are made from tables, should a step need them.

        Args:
            module: registers the frames it names, from the tables it names; all of these have been made.
            make: runs it.
        """
        names = set(_NAME.findall(Path(module.__file__ or "").read_text(encoding="utf-8")))
        frames = {name for name in names if name.startswith("given_")}
        for name in frames:
            self._identities[name] = self._key(name, reads=names - frames)
            self._suppliers[name] = make

    def holds(self, step: steps.Step, parameters: Mapping[str, object]) -> bool:
        """Whether the step's table is there as this run would make it; where not, it is dropped, to be made.

        Steps must be asked about in their order.
        """
        if step.table == MACROS:
            return False
        code = _COMMENT.sub("", step.text)
        named = sorted(set(_PARAMETER.findall(code)))
        reads = _named(code, _macros()) - {step.table}
        key = self._key(code, *(f"{name}={parameters.get(name)}" for name in named), reads=reads)
        before, identity = self._earlier.get(step.table, ("", ""))
        self._keys[step.table] = key
        if key == before:
            self._identities[step.table] = identity
            self.held += 1
            return True
        self._identities[step.table] = key
        for make in {self._suppliers[name] for name in reads if name in self._suppliers}:
            self._suppliers = {name: how for name, how in self._suppliers.items() if how is not make}
            make()
        if identity:
            if _readers()[step.table] >= READERS:
                self._before[step.table] = _rows_of(self.con, step.table)
            self.con.execute(f"drop table if exists {step.table}")
        return False

    def made(self, step: steps.Step) -> None:
        """Take note that the step was run: with the same rows as before, its table is the same."""
        before = self._before.pop(step.table, "")
        if before and before == _rows_of(self.con, step.table):
            self._identities[step.table] = self._earlier[step.table][1]

    def write(self) -> None:
        """Leave word for the next run."""
        made = list(self._keys)
        self.con.execute(
            "create or replace table made_by as select unnest($made) as made, unnest($keys) as key,"
            " unnest($identities) as identity, $program as program",
            {"made": made, "keys": [self._keys[name] for name in made],
             "identities": [self._identities[name] for name in made], "program": self.program},
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


@lru_cache(maxsize=1)
def _macros() -> dict[str, frozenset[str]]:
    """The tables that each macro reads, itself or by another."""
    found: dict[str, frozenset[str]] = {}
    for step in steps.find():
        if step.table == MACROS:
            code = _COMMENT.sub("", step.text)
            found |= dict.fromkeys(_MACRO.findall(code), _named(code, found))
    return found


@lru_cache(maxsize=1)
def _readers() -> Counter[str]:
    """How many steps read each table."""
    return Counter(name for step in steps.find() for name in _named(_COMMENT.sub("", step.text), _macros()) - {step.table})


def _named(code: str, macros: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """The tables and frames that a piece of SQL reads, itself or by a macro."""
    called = set(re.findall(r"\w+", code)) & macros.keys()
    return frozenset(_NAME.findall(code)).union(*(macros[name] for name in called))
