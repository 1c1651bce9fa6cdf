"""One finding about the data as a value: where it is, what stood there, what was expected, what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, fields

ERROR = "error"
WARNING = "warning"


@dataclass(frozen=True)
class Code:
    """What a code stands for: how severe it is, and its meaning in one sentence (the README prints it)."""

    severity: str
    meaning: str


# Every code of the records layer. A code never changes its meaning; the layers above list theirs beside it.
CODES: dict[str, Code] = {
    # files and sheets
    "no-kind": Code(ERROR, "The name of a file or sheet fits no kind of record, so nothing in it was read."),
    "not-read": Code(WARNING, "A file of a sort that holds no records lies in inputs."),
    "empty-file": Code(ERROR, "A file holds nothing at all."),
    "empty-sheet": Code(WARNING, "A sheet named after a kind of record holds nothing."),
    "damaged-file": Code(ERROR, "A workbook is cut short or damaged."),
    "old-format": Code(ERROR, "A spreadsheet in a format that is not read (.xls, .xlsb, .ods, .numbers)."),
    "not-a-workbook": Code(ERROR, "A file named .xlsx that is no workbook, a web page for example."),
    "password-protected": Code(ERROR, "A workbook that only opens with a password."),
    "too-large-file": Code(ERROR, "A workbook that unzips to more than the limit, or spans too many cells."),
    "not-text": Code(ERROR, "A file named .csv that is not text."),
    "file-changing": Code(ERROR, "A file that was being written while it was read, or that cannot be opened."),
    "unclosed-quote": Code(ERROR, "A quotation mark opens in a row and is never closed."),
    "hidden-sheet": Code(WARNING, "A hidden sheet holds records; they are read all the same."),
    # headings
    "missing-column": Code(ERROR, "A required column is not there; every row of the file is set aside."),
    "repeated-column": Code(ERROR, "Two columns bear the same name; every row of the file is set aside."),
    "unknown-column": Code(WARNING, "A column that the kind of record does not have; it is not read."),
    "no-heading": Code(WARNING, "A column holds something but has no name; it is not read."),
    # cells
    "missing-value": Code(ERROR, "A required field is blank."),
    "not-a-number": Code(ERROR, "A number is expected and something else stands there."),
    "not-whole": Code(ERROR, "A whole number is expected."),
    "negative": Code(ERROR, "A negative figure where none can be."),
    "too-large": Code(ERROR, "A figure larger than any such figure can be."),
    "out-of-range": Code(ERROR, "A figure outside the range it can have."),
    "not-a-date": Code(ERROR, "A date is expected and something else stands there."),
    "not-a-month": Code(ERROR, "A month is expected and something else stands there."),
    "before-first-month": Code(ERROR, "A date before the first month of the books."),
    "date-too-late": Code(ERROR, "A date more than 30 years after the books begin."),
    "not-a-choice": Code(ERROR, "A word that is not on the field's list."),
    "not-yes-or-no": Code(ERROR, "yes or no is expected."),
    "unknown-unit": Code(ERROR, "A unit that is not known."),
    "unit-family": Code(ERROR, "A unit of the wrong family: a weight where a volume belongs, for example."),
    "not-an-area": Code(ERROR, "A tax area is expected, as US or US-ME."),
    "cell-error": Code(ERROR, "A cell shows an error of the spreadsheet, or a formula without its result."),
    "extra-cell": Code(ERROR, "A row has more cells than there are headings: a stray separator in a text."),
    # rows
    "exactly-one": Code(ERROR, "Exactly one of several fields must be filled, and none or more are."),
    "at-most-one": Code(ERROR, "At most one of several fields may be filled."),
    "wrong-combination": Code(ERROR, "Two fields of a row contradict each other."),
    "duplicate": Code(ERROR, "The same document stands in two places; the first counts."),
    "twice": Code(WARNING, "A receipt, an expense or a payment of duty that is in every field like another one."),
    "run-differs": Code(ERROR, "The lines of one run bear different dates or sites."),
    "area-missing": Code(WARNING, "An account has no tax area, so no state or city duty can be computed for it."),
    "readings-disagree": Code(WARNING, "Volumes differ by more than twice their reading error: a gain, or a quarter of the "
                                       "wort lost."),
    "gravity-unit": Code(WARNING, "A figure that looks like a specific gravity stands under the unit plato."),
    "temperature-unit": Code(WARNING, "A figure that looks like degrees Celsius stands under the unit F."),
    "scale-falls": Code(ERROR, "A vessel's scale has less volume at a higher mark."),
    "no-scale": Code(ERROR, "A volume is written as a mark and its tank has no scale."),
    "outside-scale": Code(ERROR, "A mark lies outside the scale of its tank."),
    "level-falls": Code(ERROR, "The level after a brew is below what the lot's earlier brews had brought in."),
    "level-unknown": Code(ERROR, "A level after a brew cannot be used, because an earlier brew of the lot has no volume."),
    "tank-empty": Code(ERROR, "A tank is named in the place of a lot and no lot is known to be in it that day."),
    "tank-ambiguous": Code(ERROR, "A tank is named in the place of a lot and more than one lot was in it that day."),
    "nothing-to-mend": Code(ERROR, "A row handed in to take the place of one set aside that is in order, or mended already."),
    # names
    "unknown-beer": Code(ERROR, "No such beer."),
    "unknown-material": Code(ERROR, "No such material."),
    "unknown-package": Code(ERROR, "No such package, neither of your own nor ready-made."),
    "unknown-vessel": Code(ERROR, "No such vessel."),
    "other-site": Code(ERROR, "A vessel stands at another site than its row's."),
    "unknown-account": Code(ERROR, "No such account."),
    "unknown-site": Code(ERROR, "No such site in brewery.toml."),
    "unknown-pool": Code(ERROR, "No such pool in brewery.toml."),
    "pool-not-in-force": Code(ERROR, "A pool of brewery.toml that is not for that site, or not yet in that month."),
    "unknown-lot": Code(ERROR, "No brew, move, opening lot or received beer fills a lot of this name."),
    "unknown-brew": Code(ERROR, "No such brew."),
    "unknown-run": Code(ERROR, "No such packaging run."),
    "unknown-receipt": Code(ERROR, "No receipt with this document."),
    "not-on-receipt": Code(ERROR, "An invoice is of a material that its receipt does not have."),
    "unknown-document": Code(WARNING, "No shipment with this document, so it is taken as taxed."),
    "names-set-aside": Code(WARNING, "A row names something whose only row was set aside."),
}


# The codes of the layers above, which are found by the SQL under sql/ and bear their severity there.
LAYER_CODES: dict[str, Code] = {
    # records
    "deposit-without-package": Code(WARNING, "A deposit of brewery.toml is for a package that is not there."),
    "not-yeast": Code(WARNING, "A generation stands beside a material that is no yeast; it is not used."),
    "months-apart": Code(WARNING, "A date lies more than three months after all that came before it."),
    "return-unlike-shipment": Code(WARNING, "A return has another beer, package or account than the shipment it names, an "
                                            "earlier date, or more units than went out."),
    "purpose-unlike-account": Code(WARNING, "An export that stays in the country, or an own location that is not ours."),
    # volumes
    "package-set-aside": Code(WARNING, "A run fills a package whose record was set aside; the line is left out."),
    "lot-emptied": Code(ERROR, "Beer flows into or out of a lot after the day it was emptied; the row is left out (a "
                               "warning where it is a sample or a dump)."),
    "before-lot": Code(ERROR, "Beer leaves a lot before the day it was first filled (a warning where it is only read)."),
    "ring": Code(ERROR, "Moves of one day, or repacks of one month by average, lead back to where they began."),
    "overdrawn": Code(WARNING, "A lot gives more than it held, by more than twice its reading error."),
    "missing-reading": Code(WARNING, "A reading was not taken, so a loss is not measured."),
    "other-beer": Code(WARNING, "Another beer flows into a lot, which keeps its name."),
    "vessel-shared": Code(WARNING, "Two lots are in one tank at one time."),
    "vessel-overfilled": Code(WARNING, "A lot, a dip or the wort in the kettle is larger than its vessel."),
    "fill-unlike-package": Code(WARNING, "Containers were weighed that hold over 15 % more or less than their size."),
    "gravity-rises": Code(WARNING, "The gravity of a lot rises."),
    "count-differs": Code(WARNING, "A count of a lot differs from the book by more than twice the reading error."),
    "reading-differs": Code(WARNING, "A dip of a lot differs from the book by more than twice the reading error of both."),
    # cost
    "material-short": Code(ERROR, "More of a material is used than is on hand."),
    "goods-short": Code(ERROR, "More is shipped or repacked than is on hand."),
    "missing-price": Code(ERROR, "A shipment has no price."),
    "unshared": Code(WARNING, "A cost names a brew or run of another month, or a lot that holds no beer that day."),
    "pool-unshared": Code(WARNING, "A pool has nothing to be shared over in a month."),
    "labour-unpriced": Code(WARNING, "Hours have no cost and no pool prices them."),
    "count-short": Code(WARNING, "A count is short of the book."),
    "count-over": Code(WARNING, "A count is over the book."),
    "invoice-of-known-cost": Code(WARNING, "An invoice adds to a receipt that is no estimate."),
    "cost-below-nothing": Code(ERROR, "Credits take more off a receipt than it had cost."),
    "cost-drawn-out": Code(WARNING, "A lot gives beer after all that was expected of it was drawn."),
    "repack-unequal": Code(WARNING, "A repack makes over a tenth more or less beer than it takes."),
    # brewhouse
    "liquor-to-grist": Code(WARNING, "Strike water is less than 2 or more than 4 litres for each kilogram mashed."),
    # excise
    "no-area-file": Code(WARNING, "A tax area has no file, so no duty is computed for it."),
    "payer-not-known": Code(WARNING, "Whether the brewer or the wholesaler pays in an area is not in the sources read."),
    "remission-before-books": Code(WARNING, "The books begin inside a year of remission of which the used part is not said."),
    "quota-before-books": Code(WARNING, "The books begin inside a year of counted removals; those before are not said."),
    "return-period-too-long": Code(WARNING, "The tax of the year has passed the limit of the filer's return period."),
    "no-filer": Code(ERROR, "A filing, a payment or duty brought forward for an area or site in which no return is filed."),
    "no-such-return": Code(WARNING, "The period of a filing or payment is none of its filer's."),
    "site-not-named": Code(WARNING, "A filing or payment names no site where more than one files; the first is taken."),
    "filed-twice": Code(ERROR, "Two filings are of one return; the later counts."),
    "filed-return-changed": Code(WARNING, "The records no longer give what was filed: an adjustment on the next return."),
    "claim-to-make": Code(WARNING, "Beer that is no offset, on which tax may be claimed back by a day."),
    "currency-unlike-books": Code(ERROR, "An area's duty is in another currency than the books."),
    "no-strength": Code(ERROR, "An area taxes by strength and the beer has none."),
    "no-rate": Code(ERROR, "A removal on a day for which its area's file has no rate."),
    "no-return-period": Code(ERROR, "A removal on a day for which its area has no return period."),
    "unlisted-size": Code(WARNING, "A package size that the authority does not list."),
    "keep-proof": Code(WARNING, "A removal free of duty that hangs on proof."),
    "overfilled-keg": Code(WARNING, "A keg filled beyond its tolerance is taxed on what it holds."),
    "tax-class-unlike-strength": Code(WARNING, "A beer's tax class does not fit its strength."),
    "no-relief-step": Code(WARNING, "Last year's production lies in no step that is known of a relief; the full rate is used."),
    # closing
    "opening-after-close": Code(ERROR, "An opening balance is not as it was when the months after it were closed."),
    # controls
    "control-failed": Code(ERROR, "A control does not hold."),
}


@dataclass(frozen=True)
class Problem:
    """One finding. `file` is relative to inputs/; `row` counts records, 1 being the headings."""

    severity: str
    code: str
    month: str | None = None
    file: str | None = None
    sheet: str | None = None
    row: int | None = None
    field: str | None = None
    value: str | None = None
    expected: str | None = None
    message: str = ""
    action: str | None = None
    depends_on: str | None = None  # the place of the row that brought it about

    @property
    def row_place(self) -> str:
        """File, sheet and row as a person reads them."""
        parts = [self.file or "", f"sheet {self.sheet}" if self.sheet else "", f"row {self.row}" if self.row else ""]
        return " ".join(part for part in parts if part)

    @property
    def place(self) -> str:
        """File, sheet, row and field as a person reads them."""
        return ", ".join(part for part in (self.row_place, self.field) if part)

    @property
    def sort_key(self) -> tuple[str, str, int, str, str]:
        return (self.file or "", self.sheet or "", self.row or 0, self.field or "", self.code)

    def __str__(self) -> str:
        said = "; ".join(part for part in (self.message, self.action) if part)
        place = f"{self.place}: " if self.place else ""
        return f"{place}{said} ({self.code})"


COLUMNS = tuple(field.name for field in fields(Problem))


def found(code: str, message: str, **rest: str | int | None) -> Problem:
    """A finding with the severity its code has."""
    return Problem(CODES[code].severity, code, message=message, **rest)  # type: ignore[arg-type]


def by_place(problems: Iterable[Problem]) -> list[Problem]:
    """Sorted by file, sheet, row and field."""
    return sorted(problems, key=lambda problem: problem.sort_key)


def from_rows(rows: Iterable[Sequence[object]]) -> list[Problem]:
    """Findings from rows with the columns of `COLUMNS`, in that order."""
    return [Problem(*row) for row in rows]  # type: ignore[arg-type]


def as_rows(problems: Iterable[Problem]) -> list[tuple[object, ...]]:
    """The other way round."""
    return [astuple(problem) for problem in problems]


def count(problems: Iterable[Problem], severity: str = ERROR) -> int:
    return sum(problem.severity == severity for problem in problems)


def alike(problems: Iterable[Problem], by_value: bool = True) -> list[list[Problem]]:
    """Findings of one file in groups, errors first: those of one column that say the same, and of the same value.

    Args:
        by_value: false where other values are alike too; a name that is not there always counts by itself.
    """
    groups: dict[tuple[object, ...], list[Problem]] = {}
    for problem in sorted(problems, key=lambda one: (one.severity != ERROR, *one.sort_key)):
        same: tuple[object, ...] = (problem.code, problem.file, problem.sheet, problem.field)
        if by_value or not problem.file or problem.code.startswith("unknown-"):
            same = (*same, problem.value.casefold() if problem.value else problem.message)
        groups.setdefault(same, []).append(problem)
    return list(groups.values())


@dataclass(frozen=True)
class _Told:
    """Findings by file, the worst first, and by the place of an error what depends on it and is told with it."""

    files: dict[str, list[Problem]]
    dependent: dict[str, list[Problem]]

    @classmethod
    def of(cls, problems: Iterable[Problem]) -> _Told:
        every = by_place(problems)
        roots = {one.row_place for one in every if one.severity == ERROR and one.row and not one.depends_on}
        above = {one.row_place: one.depends_on for one in every if one.depends_on and one.row}
        files: dict[str, list[Problem]] = {}
        dependent: dict[str, list[Problem]] = {}
        for problem in every:
            root, passed = problem.depends_on, set[str]()
            while root and root not in roots and root not in passed:
                passed.add(root)
                root = above.get(root)
            if root in roots:
                dependent.setdefault(str(root), []).append(problem)
            else:
                files.setdefault(problem.file or "", []).append(problem)

        def weight(file: str) -> tuple[int, int, str]:
            places = {problem.row_place for problem in files[file]}
            counted = [*files[file], *(one for place in places for one in dependent.get(place, ()))]
            return -count(counted), -len(counted), file

        return cls({file: files[file] for file in sorted(files, key=weight)}, dependent)

    def take(self, problem: Problem) -> list[Problem]:
        """What depends on an error, once: of two errors in a row the first tells it."""
        return self.dependent.pop(problem.row_place, []) if problem.severity == ERROR else []


def listing(problems: Iterable[Problem]) -> list[str]:
    """Every finding on a line: by file, the worst first, and below an error what depends on it."""
    told = _Told.of(problems)
    lines: list[str] = []
    for found_there in told.files.values():
        for problem in (one for group in alike(found_there) for one in group):
            lines.append(f"{problem.severity}: {problem}")
            lines += [f"    depends on it: {one.severity}: {one}" for one in told.take(problem)]
    return lines


def summary(problems: Iterable[Problem], height: int = 20, width: int = 10_000) -> list[str]:
    """What a person sees first: by file, the worst first, errors before warnings; what is alike, and what depends on an
    error, is only counted.

    Args:
        height: how many lines of the screen may be filled; one more says how many findings are left out.
        width: characters in a line of the screen; a longer finding fills several.
    """
    every = list(problems)
    shown, left_out = _shown(_Told.of(every), height, width, by_value=True)
    if left_out:
        shown, left_out = _shown(_Told.of(every), height, width, by_value=False)
    return [*shown, f"... and {left_out} more findings"] if left_out else shown


def _shown(told: _Told, height: int, width: int, by_value: bool) -> tuple[list[str], int]:
    shown: list[str] = []
    left_out = 0
    for found_there in told.files.values():
        for group in alike(found_there, by_value):
            depend = sum(len(told.take(one)) for one in group)
            line = f"{group[0].severity}: {group[0]}"
            if len(group) > 1:
                line += f" and {len(group) - 1} more like it"
            if depend:
                line += f" and {depend} finding{'s that depend' if depend > 1 else ' that depends'} on it"
            height -= -(-len(line) // width)
            if shown and height < 0:
                left_out += len(group) + depend
            else:
                shown.append(line)
    return shown, left_out
