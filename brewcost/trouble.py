"""The machine's troubles with a file or a disk, as a message with the path and what to do about it."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import sysconfig
from collections.abc import Iterator
from pathlib import Path

from brewcost.places import reports_dir, sample_dir, sql_dir

_DISK = {
    errno.ENOSPC: "the disk is full; make room",
    errno.EDQUOT: "your share of the disk is full; make room",
    errno.EFBIG: "the file is larger than may be written here; make room, or use another disk",
    errno.EROFS: "its disk can only be read; use another one",
}
# What the database says of the system's errors: by their own words and, where Windows has others, by those.
_SAID = {
    **{os.strerror(number): number for number in (*_DISK, errno.EACCES, errno.EPERM, errno.EISDIR, errno.ENOENT, errno.EIO)},
    "not enough space": errno.ENOSPC,
    "Access is denied": errno.EACCES,
    "used by another process": errno.EACCES,
    "Conflicting lock": errno.EACCES,
}
_OF_FILE = re.compile(r'\b(?:file|directory) "([^"]+)": (.+)', re.DOTALL)


def told(error: BaseException | None) -> str | None:
    """What to tell a user of an error, or of what brought it about.

    Returns:
        A message; None where it is nothing that a user can put right: a fault of the program, as a file of its own that is
        not there.
    """
    while error is not None:
        system = error if isinstance(error, OSError) else _behind(error)
        if system is not None:
            return _told(system)
        error = error.__cause__
    return None


@contextlib.contextmanager
def about(path: Path) -> Iterator[None]:
    """An error of the system that names no file, as that of a full disk, names this one."""
    try:
        yield
    except OSError as error:
        if error.filename is None:
            error.filename = str(path)
        raise


@contextlib.contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A file to write to, which takes the place of `path` in one step when the block ends without an error; otherwise what
    stood there stays, and nothing is left of it. An error of the system names `path`."""
    part = path.with_name(f".{path.name}.part")
    try:
        yield part
        part.replace(path)
    except OSError as error:
        error.filename, error.filename2 = str(path), None
        raise
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _behind(error: BaseException) -> OSError | None:
    """The system's error that the database tells of."""
    import duckdb

    if isinstance(error, duckdb.OutOfMemoryException):
        return OSError(errno.ENOMEM, "memory")
    found = _OF_FILE.search(str(error)) if isinstance(error, duckdb.Error) else None
    number = next((number for said, number in _SAID.items() if found and said in found[2]), None)
    return OSError(number, os.strerror(number), found[1]) if found and number else None


def _told(error: OSError) -> str | None:
    if error.errno == errno.ENOMEM:
        return "these books need more memory, or room on the disk in its place, than there is; end other programs and run again"
    named = error.filename2 or error.filename
    if error.errno in _DISK:
        return f"{named or 'what was to be written'} cannot be written: {_DISK[error.errno]} and run again"
    if not isinstance(named, str | os.PathLike):
        return None
    path = Path(named)
    if any(path.absolute().is_relative_to(own) for own in _program()):
        return None
    if error.errno == errno.EISDIR or (os.name == "nt" and path.is_dir()):
        return f"{path} is a folder where a file belongs; move it away and run again"
    if isinstance(error, NotADirectoryError | FileExistsError):
        file = next((one for one in (path, *path.parents) if one.is_file()), path)
        return f"{file} is a file where a folder belongs; move it away and run again"
    if isinstance(error, FileNotFoundError):
        missing = next((one for one in (*reversed(path.parents), path) if not one.exists()), path)
        return f"{missing} is not there; make it, or name another place"
    if isinstance(error, PermissionError):
        return f"{path} is open in another program or protected; close it there or take the protection off, and run again"
    return f"{path} cannot be read or written: {(error.strerror or 'the system does not say why').lower()}"


def _program() -> list[Path]:
    """Where nothing is a user's: this program and the libraries."""
    libraries = (Path(sysconfig.get_path(name)) for name in ("stdlib", "purelib", "platlib"))
    return [Path(__file__).resolve().parent, sql_dir(), reports_dir(), sample_dir(), *libraries]
