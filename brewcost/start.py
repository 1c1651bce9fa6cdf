"""A folder to begin with: the settings explained, a blank log workbook; and the copy of the sample brewery."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from brewcost import areas, settings
from brewcost.books import Books, BooksError, NotNew
from brewcost.forms import known_names, write_log
from brewcost.places import sample_dir
from brewcost.settings_model import Settings
from brewcost.trouble import replacing

LOG = "log.xlsx"
SAMPLE_PARTS = ("brewery.toml", "README.md", "inputs", "areas")


def new_folder(folder: Path) -> list[Path]:
    """Make a folder a brewer can begin with: a commented brewery.toml, and inputs/ with the blank log workbook.

    The folder's name becomes the brewery's, and this month the first one, until the brewer writes something else.

    Args:
        folder: made where it is not there yet; what else lies in it stays.

    Returns:
        The files written.

    Raises:
        NotNew: it already holds a brewery.toml or a log.
        OSError: it cannot be written to.
    """
    books = Books(folder)
    log = books.inputs / LOG
    for path in (books.settings, log):
        if path.exists():
            raise NotNew(f"{path} is there already and was left as it is; name a new folder")
    text = new_settings(folder.resolve().name, date.today())
    books.inputs.mkdir(parents=True, exist_ok=True)
    with replacing(books.settings) as unfinished:
        unfinished.write_text(text, encoding="utf-8")
    write_log(log, names_in(settings.load(books.settings), folder))
    return [books.settings, log]


def new_settings(name: str, today: date) -> str:
    """The text of a first brewery.toml, for a brewery of that name whose books begin this month."""
    text = Path(__file__).with_name("new_brewery.toml").read_text(encoding="utf-8")
    # A JSON string is a TOML string too; a file name may hold what no text can.
    shown = json.dumps(name.encode("utf-8", "replace").decode("utf-8") or "My brewery", ensure_ascii=False)
    text = re.sub(r'^name = ".*"$', lambda _: f"name = {shown}", text, count=1, flags=re.M)
    return re.sub(r'^first_month = ".*"$', f'first_month = "{today:%Y-%m}"', text, count=1, flags=re.M)


def new_log(books: Books) -> Path:
    """Write a blank log workbook beside the others, its drop-downs filled from what the books already know.

    It is inputs/log.xlsx, or log-2.xlsx, log-3.xlsx ... where that is taken: a log with records in it is never written
    over. Until it is filled in, the loader finds no record in it.

    Args:
        books: the folder; where it was never computed, only the names of brewery.toml are offered.

    Returns:
        The file written.

    Raises:
        BooksError: the folder has no inputs.
        OSError: it cannot be written to.
        SettingsError: brewery.toml cannot be used.
    """
    if not books.inputs.is_dir():
        raise BooksError(f"{books.inputs} is missing; `brewcost start FOLDER` makes a folder with one")
    known = dict(names_in(settings.load(books.settings), books.folder))
    if books.database.exists():
        with contextlib.closing(books.reading()) as con:
            # What was written into brewery.toml since is known too.
            known = {sort: _once([*known.get(sort, ()), *names]) for sort, names in known_names(con).items()}
    path = books.inputs / LOG
    number = 2
    while path.exists():
        path = books.inputs / f"{Path(LOG).stem}-{number}{Path(LOG).suffix}"
        number += 1
    write_log(path, known)
    return path


def names_in(chosen: Settings, folder: Path) -> Mapping[str, Sequence[str]]:
    """The names known before there is a record, by sort: sites and pools of brewery.toml, areas with a file."""
    return {
        "sites": [site.site for site in chosen.sites],
        "pools": _once([pool.pool for pool in chosen.pools]),
        "areas": sorted(areas.load(folder)),
    }


def _once(names: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(names))


def copy_sample(folder: Path) -> None:
    """Copy the invented sample brewery (settings, README, records) into a new or empty folder.

    Raises:
        NotNew: the folder holds something already.
        OSError: it cannot be written to.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise NotNew(f"{folder} is not empty; name a new folder, or empty it first")
    for name in SAMPLE_PARTS:
        for source in (sample_dir() / name, *sorted((sample_dir() / name).rglob("*"))):
            if source.is_file():
                copy = folder / source.relative_to(sample_dir())
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(source, copy)
