"""The SQL files under sql/: find them, read their headers, bind their parameters, run them in order.

Each file makes one table. It opens with a header of comments (table, grain, key, units, reads, rule, source) that is
checked here and stored with the table, so that the database explains itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from brewcost.places import sql_dir

if TYPE_CHECKING:
    import duckdb

HEADER_FIELDS = ("table", "grain", "key", "units", "reads", "rule", "source")
SCHEMAS = ("reference", "record", "volume", "cost", "excise", "result", "closing", "control", "report")
MACROS = "macros"  # what a file of macros says in the place of its table
_COMMENT = re.compile(r"--[^\n]*")
_HEADER_LINE = re.compile(r"--\s*(\w+)\s*:\s*(.+)")


class Kept(Protocol):
    """What of an earlier run may stay (`reuse.Kept`)."""

    def holds(self, step: Step, parameters: Mapping[str, object]) -> bool: ...

    def made(self, step: Step) -> None: ...


class StepError(RuntimeError):
    """A file under sql/ is not as it must be, or failed while it ran: a fault of the program, never of the records."""


@dataclass(frozen=True)
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


def run(
    con: duckdb.DuckDBPyConnection,
    parameters: Mapping[str, object],
    folders: Sequence[str] | None = None,
    progress: Callable[[str], None] | None = None,
    kept: Kept | None = None,
) -> None:
    """Run the SQL files in order, binding to each statement only the `$parameters` it names.

    Args:
        con: an open database, the frames the files read registered as `given_*`.
        parameters: values for the `$names` in the files.
        folders: only these folders of sql/; all where None.
        progress: told the name of each table before it is made.
        kept: knows which tables are there already.

    Raises:
        StepError: a statement failed; the message names the file.
    """
    import duckdb

    for step in find(folders):
        if kept and kept.holds(step, parameters):
            continue
        if progress:
            progress(step.table)
        try:
            for statement in con.extract_statements(step.text):
                con.execute(statement, {name: parameters[name] for name in statement.named_parameters} or None)
        except (duckdb.Error, KeyError) as error:
            raise StepError(f"{step.path.parent.name}/{step.path.name}: {error}") from error
        if kept:
            kept.made(step)
        if "." in step.table and step.table.split(".")[0] in SCHEMAS:
            comment = "; ".join(f"{name}: {step.header[name]}" for name in HEADER_FIELDS[1:])
            con.execute(f"comment on table {step.table} is '{comment.replace(chr(39), chr(39) * 2)}'")
