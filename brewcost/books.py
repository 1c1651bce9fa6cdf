"""One brewery's folder: where its files are, and its database, replaced whole or not at all."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost import __version__
from brewcost.places import sql_dir

if TYPE_CHECKING:
    import duckdb


# The size of a block, by how many bytes are read: many small tables take a fifth of the room in small ones, large tables two
# thirds of it, and less time, in larger ones.
MUCH, SMALL_BLOCK, LARGE_BLOCK = 16_000_000, "32768", "131072"
# What the database may hold in memory while it is made, where the machine has more: ten times what is read, and as much as
# four million rows were tried with. Beyond it goes to disk; a machine that others use stays of use to them.
LEAST_MEMORY, MEMORY_BY_INPUT = 2_800_000_000, 10


@lru_cache(maxsize=1)
def program() -> str:
    """A hash of all that makes figures of records: this program, and the versions of what it reckons with."""
    here = Path(__file__).parent
    paths = [*here.glob("**/*.py"), *here.glob("**/*.toml"), *sql_dir().glob("*/*.sql")]
    return _hash_of(here, paths, __version__, *(version(name) for name in ("duckdb", "polars", "numpy", "scipy")))


def _hash_of(root: Path, paths: Iterable[Path], *texts: str) -> str:
    total = hashlib.sha256("\0".join(texts).encode())
    for path in sorted(set(paths)):
        if path.is_file():
            with path.open("rb") as file:
                content = hashlib.file_digest(file, "sha256").hexdigest()
            total.update(f"{os.path.relpath(path, root)}\0{content}\n".encode())
    return total.hexdigest()


class BooksError(RuntimeError):
    """The folder cannot be used as it stands; the message says what to do."""


class Books:
    """The paths of one set of books.

    Args:
        folder: holds brewery.toml and inputs/; the database and out/ are made in it.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.settings = folder / "brewery.toml"
        self.inputs = folder / "inputs"
        self.database = folder / "brewcost.duckdb"
        self.out = folder / "out"
        self.closed = folder / "closed"
        self._unfinished = folder / "brewcost.duckdb.new"

    def fingerprint(self) -> str:
        """A hash of all that the figures depend on: the content of every input, setting and area file, and the program.

        Two folders with the same fingerprint have the same books to the last digit, so nothing need be computed again.
        """
        own = [path for pattern in ("*.toml", "*.csv", "inputs/**/*", "areas/**/*", "closed/**/*")
               for path in self.folder.glob(pattern)]  # fmt: skip
        return _hash_of(self.folder, own, program())

    def is_current(self, fingerprint: str) -> bool:
        """Whether the finished database was computed from exactly this."""
        return self.remembered("select fingerprint from result.books") == [(fingerprint,)]

    @contextlib.contextmanager
    def rebuilding(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A new database that takes the old one's place when the block ends without an error.

        It begins as a copy of the old one where this program made that, else empty.

        Until then the old one stays as it was and can be read. A run that was killed leaves only an unfinished file
        behind, which the next run removes.

        Raises:
            BooksError: another run is at work on the folder, or a file is held open by another program.
        """
        import duckdb

        self._remove_unfinished()
        if self.remembered("select distinct program from made_by") == [(program(),)]:
            try:
                shutil.copyfile(self.database, self._unfinished)
            except OSError:  # held by another program, or no room: from nothing, then
                self._unfinished.unlink(missing_ok=True)
        read = sum(path.stat().st_size for path in self.inputs.glob("**/*") if path.is_file())
        block = LARGE_BLOCK if read > MUCH else SMALL_BLOCK
        try:
            # Of a file that is thrown away unless it is finished, each table need not have reached the disk; the whole must.
            con = duckdb.connect(str(self._unfinished), config={"default_block_size": block, "fsync_mode": "NONE"})
        except duckdb.IOException as error:
            raise BooksError(f"{self._unfinished} cannot be written: {error}") from error
        try:
            [(usual,)] = con.execute("select parse_formatted_bytes(current_setting('memory_limit'))").fetchall()
            con.execute(f"set memory_limit = '{min(usual, max(LEAST_MEMORY, MEMORY_BY_INPUT * read))}B'")
            yield con
            con.execute("set fsync_mode = 'STANDARD'")
            con.execute("force checkpoint")
        except BaseException:
            con.close()
            with contextlib.suppress(BooksError):
                self._remove_unfinished()
            raise
        con.close()
        try:
            self._unfinished.replace(self.database)
        except PermissionError as error:
            raise BooksError(f"{self.database} is open in another program; close it there and run again") from error

    def reading(self) -> duckdb.DuckDBPyConnection:
        """The finished database, to read only.

        Raises:
            BooksError: there is none yet.
        """
        import duckdb

        if not self.database.exists():
            raise BooksError(f"{self.folder} has no books yet; run `brewcost check` first")
        return duckdb.connect(str(self.database), read_only=True)

    def step_seconds(self) -> dict[str, float]:
        """How long each step of the last run took; empty where nobody knows."""
        return dict(self.remembered("select step, seconds from step_seconds"))

    def remembered(self, query: str) -> list[Any]:
        """Rows of the finished database; none where there is no database yet, or an earlier program made it."""
        import duckdb

        try:
            with self.reading() as con:
                return con.execute(query).fetchall()
        except (BooksError, duckdb.Error):
            return []

    def _remove_unfinished(self) -> None:
        """Remove what a killed run left; refuse while a living one still writes to it."""
        import duckdb

        if self._unfinished.exists():
            try:
                duckdb.connect(str(self._unfinished)).close()
            except duckdb.IOException as error:
                if "lock" in str(error).lower():
                    raise BooksError(f"another run is at work on {self.folder}; wait until it has ended") from error
            except duckdb.Error:
                pass  # half-written: a killed run's, and nobody's now
        for path in (self._unfinished, Path(f"{self._unfinished}.wal")):
            try:
                path.unlink(missing_ok=True)
            except PermissionError as error:
                raise BooksError(f"{path} is open in another program; close it there and run again") from error
        shutil.rmtree(f"{self._unfinished}.tmp", ignore_errors=True)  # what did not fit into memory
