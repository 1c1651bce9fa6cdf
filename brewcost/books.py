"""One brewery's folder: where its files are, and its database, replaced whole or not at all."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost import __version__, input_files, trouble
from brewcost.places import sql_dir

if TYPE_CHECKING:
    import duckdb


# The size of a block, by how many bytes are read: many small tables take a fifth of the room in small ones, large tables two
# thirds of it, and less time, in larger ones.
MUCH, SMALL_BLOCK, LARGE_BLOCK = 16_000_000, "32768", "131072"
# What the database may hold in memory while it is made, where the machine has more: ten times what is read, and as much as
# four million rows were tried with. Beyond it goes to disk; a machine that others use stays of use to them.
LEAST_MEMORY, MEMORY_BY_INPUT = 2_800_000_000, 10


# What reads the records, reckons with them or moves a due date: another version may give other figures.
RECKONS_WITH = ("duckdb", "polars", "pyarrow", "fastexcel", "openpyxl", "numpy", "scipy", "holidays")


@lru_cache(maxsize=1)
def program() -> str:
    """A hash of all that makes figures of records: this program, and the versions of what it reckons with."""
    here = Path(__file__).parent
    paths = [*here.glob("**/*.py"), *here.glob("**/*.toml"), *sql_dir().glob("*/*.sql")]
    return _hash_of(here, paths, __version__, *(version(name) for name in RECKONS_WITH))


def _hash_of(root: Path, paths: Iterable[Path], *texts: str) -> str:
    total = hashlib.sha256("\0".join(texts).encode())
    for path in sorted(set(paths)):
        if path.is_file():
            with path.open("rb") as file:
                content = hashlib.file_digest(file, "sha256").hexdigest()
            total.update(os.fsencode(os.path.relpath(path, root)) + f"\0{content}\n".encode())
    return total.hexdigest()


class BooksError(RuntimeError):
    """The folder cannot be used as it stands; the message says what to do."""


class NotNew(BooksError):
    """A new folder is asked for, and something stands in the one that was named."""


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
        self._lock = folder / ".brewcost.lock"

    def fingerprint(self) -> str:
        """A hash of all that the figures depend on: the content of every input, setting and area file, and the program.

        Two folders with the same fingerprint have the same books to the last digit, so nothing need be computed again.
        """
        files, refused = input_files.under(self.inputs)
        own = [path for pattern in ("*.toml", "*.csv", "areas/**/*", "closed/**/*") for path in self.folder.glob(pattern)]
        return _hash_of(self.folder, [*files.values(), *own], program(), *(f"{name}: {why}" for name, why in refused.items()))

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
            BooksError: another run is at work on the folder.
            OSError, duckdb.Error: the disk is full, or a file is held open by another program; `trouble` tells it.
        """
        import duckdb

        with self._alone():
            self._remove_unfinished()
            if self.remembered("select distinct program from made_by") == [(program(),)]:
                try:
                    shutil.copyfile(self.database, self._unfinished)
                except OSError:  # held by another program, or no room: from nothing, then
                    self._unfinished.unlink(missing_ok=True)
            read = sum(path.stat().st_size for path in input_files.under(self.inputs)[0].values())
            block = LARGE_BLOCK if read > MUCH else SMALL_BLOCK
            try:
                # Of a file that is thrown away unless it is finished, only the whole need have reached the disk.
                con = duckdb.connect(str(self._unfinished), config={"default_block_size": block, "fsync_mode": "NONE"})
                with contextlib.closing(con):
                    [(usual,)] = con.execute("select parse_formatted_bytes(current_setting('memory_limit'))").fetchall()
                    con.execute(f"set memory_limit = '{min(usual, max(LEAST_MEMORY, MEMORY_BY_INPUT * read))}B'")
                    yield con
                    con.execute("set fsync_mode = 'STANDARD'")
                    con.execute("force checkpoint")
                self._unfinished.replace(self.database)
            finally:
                with contextlib.suppress(OSError):
                    self._remove_unfinished()

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        """One run at a time: a lock of the system, which goes with the process however that ends. Its file stays, empty."""
        with self._lock.open("wb") as file:
            try:
                if sys.platform == "win32":
                    import msvcrt

                    msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
                else:
                    import fcntl

                    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except (BlockingIOError, PermissionError) as error:
                raise BooksError(f"another run is at work on {self.folder}; wait until it has ended") from error
            yield

    def reading(self) -> duckdb.DuckDBPyConnection:
        """The finished database, to read only.

        Raises:
            BooksError: there is none yet, or something else stands in its place.
        """
        import duckdb

        if not self.database.exists():
            raise BooksError(f"{self.folder} has no books yet; run `brewcost check` first")
        try:
            return duckdb.connect(str(self.database), read_only=True)
        except duckdb.IOException as error:
            if trouble.told(error):
                raise
            raise BooksError(f"{self.database} is no database; delete it, and `brewcost check` makes it again") from error

    def records(self) -> int:
        """How many records the finished database was made from, those set aside too; 0 where there is none."""
        return sum(rows for (rows,) in self.remembered("select rows_accepted + rows_set_aside from result.row_counts"))

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
        """Remove what a killed run left."""
        for path in (self._unfinished, Path(f"{self._unfinished}.wal")):
            path.unlink(missing_ok=True)
        shutil.rmtree(f"{self._unfinished}.tmp", ignore_errors=True)  # what did not fit into memory
