"""What lies under inputs/: the files to be read, and whatever there is that cannot be."""

from __future__ import annotations

import os
from pathlib import Path

# Lock files of spreadsheet programs and hidden files of the system hold no records.
PASSED_OVER = (".", "~$")


def under(folder: Path) -> tuple[dict[str, Path], dict[str, str]]:
    """Every file of a folder, those of its subfolders and of folders that links lead to included.

    Args:
        folder: usually inputs/; where there is none, nothing lies under it.

    Returns:
        The files by name, sorted, and by name why anything else cannot be read. A name is relative to the folder, with
        slashes; bytes of a file name that are no text are written out (`notes-\\xe4.txt`).

    Raises:
        OSError: the folder itself cannot be listed.
    """
    files: dict[str, Path] = {}
    refused: dict[str, str] = {}
    seen: set[str] = set()
    # Links last, so that a folder they lead to stands under its own name.
    waiting, links = ([folder] if folder.is_dir() else []), list[Path]()
    while waiting or links:
        here = waiting.pop() if waiting else links.pop(0)
        name = named(here, folder)
        real = os.path.realpath(here)
        if real in seen:
            refused[name] = "this leads to a folder that is read already"
            continue
        seen.add(real)
        try:
            entries = sorted(os.scandir(here), key=lambda entry: entry.name)
        except OSError as error:
            if here == folder:
                raise
            refused[name] = f"the folder cannot be opened: {error.strerror or error}"
            continue
        for entry in entries:
            path = here / entry.name
            if entry.name.startswith(PASSED_OVER):
                continue
            try:
                if entry.is_dir():
                    (links if entry.is_symlink() else waiting).append(path)
                elif entry.is_file():
                    files[named(path, folder)] = path
                else:
                    what = "the link leads nowhere" if entry.is_symlink() else "this is a pipe or a device and no file"
                    refused[named(path, folder)] = what
            except OSError as error:
                refused[named(path, folder)] = f"the link cannot be followed: {error.strerror or error}"
    return dict(sorted(files.items())), dict(sorted(refused.items()))


def named(path: Path, folder: Path) -> str:
    """The name of a file under a folder, as text whatever bytes it is made of."""
    return os.fsencode(path.relative_to(folder).as_posix()).decode("utf-8", "backslashreplace")
