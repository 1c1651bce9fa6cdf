"""What reading a file gives: its sheets as rows of text cells with their place, and findings about what could not be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from brewcost.kinds import Kind, dictionary
from brewcost.problems import Problem, found

if TYPE_CHECKING:
    import polars as pl

# Cells right of the headings are kept up to here; what lies further right is joined into the last of them.
SPARE_CELLS = 20
_SPACE, _WIDTHLESS = r"\p{Zs}", "[\u200b\u2060\ufeff]"


@dataclass(frozen=True)
class Sheet:
    """One csv file or one worksheet.

    `cells` holds the records below the headings, text columns c0, c1 ... trimmed, blank as null, the first being row 2.
    `broken` are rows that could not be read as they stand, with what is wrong in each. `origins`, of rows that were set
    aside, mended and handed in again: row, of_file, of_sheet and of_row of each record, where it had stood. `repeats`: the
    file of which this one is a copy to the last byte; its rows are counted, and are no records.
    """

    file: str
    sheet: str | None
    kind: Kind
    headings: tuple[str | None, ...]
    cells: pl.DataFrame
    broken: tuple[Problem, ...] = ()
    origins: pl.DataFrame | None = None
    repeats: str | None = None

    def rows(self) -> pl.Series:
        """The number of each record, the headings being row 1."""
        import polars as pl

        if self.origins is not None:
            return self.origins["row"]
        return pl.int_range(2, self.cells.height + 2, dtype=pl.Int64, eager=True).alias("row")


@dataclass
class Intake:
    """Everything that was read, by file and sheet, and what could not be."""

    sheets: list[Sheet] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


class Unreadable(Exception):
    """A file that cannot be read; its finding says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


def no_kind(name: str, sheet: str | None, called: str, hidden: bool = False) -> Problem:
    """The finding for a name that fits no kind of record, with the kind that comes nearest."""
    import difflib

    near = difflib.get_close_matches(called.casefold().replace(" ", "_"), dictionary().kinds, 1, 0.6)
    begins = [kind for kind in dictionary().kinds if called.casefold().startswith((kind, kind.removesuffix("s")))]
    guess = max(begins, key=len) if begins else next(iter(near), None)
    action = f"did you mean `{guess}`, then a hyphen, dot or space and anything?" if guess else (
        "begin its name with the kind of record it holds"
    )
    what = "sheet" if sheet else "file"
    problem = found("no-kind", f"the name of this {what} fits no kind of record; it was not read", file=name,
                    sheet=sheet, value=called, expected=", ".join(dictionary().kinds), action=action)  # fmt: skip
    return Problem(**{**vars(problem), "severity": "warning"}) if hidden else problem


def trimmed(frame: pl.DataFrame) -> pl.DataFrame:
    """Text columns without blanks at their ends, blank cells as null, columns named c0, c1 ...

    What looks alike is made alike: letters with their marks in one character each (Unicode form NFC), spaces of every sort as
    the plain one, and no spaces without width.
    """
    import polars as pl

    text = pl.all().str
    # Most columns hold one byte a character and need no more than a count.
    odd = [cells.name for cells in frame.select(text.len_bytes().sum() != text.len_chars().sum()) if cells.any()]
    if odd:
        alike = pl.col(odd).str.normalize("NFC").str.replace_all(_SPACE, " ").str.replace_all(_WIDTHLESS, "")
        frame = frame.with_columns(alike)
    columns = (pl.col(name).str.strip_chars().alias(f"c{place}") for place, name in enumerate(frame.columns))
    return frame.select(columns).with_columns(
        pl.when(pl.all() == "").then(None).otherwise(pl.all()).name.keep()
    )


def any_filled(frame: pl.DataFrame) -> bool:
    """Whether any cell holds something."""
    return any(cells.null_count() < frame.height for cells in frame)


def headed(file: str, sheet: str | None, kind: Kind, frame: pl.DataFrame, broken: Sequence[Problem] = ()) -> Sheet:
    """A sheet from trimmed cells of which the first row is the headings."""
    headings = frame.row(0) if frame.height else ()
    return Sheet(file, sheet, kind, tuple(headings), frame.slice(1), tuple(broken))


def as_heading(cell: str) -> str:
    """A heading as the dictionary spells it: lower case, underscores for spaces, no mark of a required field."""
    return "_".join(cell.strip().strip("*").strip().casefold().split())
