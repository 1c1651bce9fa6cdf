"""The lists behind the log workbook's drop-downs: names already known, then those written on its other sheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from brewcost.kinds import Field, dictionary
from brewcost.names import READY_MADE

if TYPE_CHECKING:
    from openpyxl import Workbook

SHEET = "_lists"
# Cases whose names everyone can use; any other case_NxS is as good but is not offered.
READY_CASES = ("case_24x12", "case_24x16", "case_12x22", "case_24x330mL")
# How many rows of a sheet are looked through for names; further down a name still loads, it is only not offered.
ROWS_LOOKED_AT = {"reference": 200, "opening": 100, "movement": 600}


def sort_of(field: Field) -> str | None:
    """The list a field's drop-down shows; None where it names nothing. Fields that take * have a list with it."""
    if field.type == "area":
        return "areas"
    if field.of and field.or_all:
        return f"{field.of}_or_all"
    return field.of


def add_lists(book: Workbook, known: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Add the sheet `_lists`, hidden; the loader passes over it.

    Every list is a column of names. Where other sheets bring names of its sort, two columns beside it gather them:
    `written` holds every cell where such a name may stand, `number` counts the names that were not there before, and
    the list takes the first, second, third ... of them. Ordinary formulas only, so that any spreadsheet program fills
    it.

    Args:
        book: the workbook, its other sheets made already or later.
        known: names by sort, offered first.

    Returns:
        The defined name of each list by its sort, as a drop-down's formula takes it.
    """
    from openpyxl.workbook.defined_name import DefinedName

    ws = book.create_sheet(SHEET)
    ws.sheet_state = "hidden"
    names: dict[str, str] = {}
    column = 1
    for sort in _sorts():
        listed = _listed(sort, known)
        written = list(_places(sort.removesuffix("_or_all")))
        rows = max(1, len(listed) + len(written))
        _put(ws, column, sort, listed)
        if written:
            _put(ws, column + 1, f"{sort} written", listed)
            for row, formula in enumerate(written, start=len(listed) + 2):
                ws.cell(row, column + 1, formula)
            _gather(ws, column, sort, len(listed), rows)
        place = f"'{SHEET}'!${_letter(column)}$2:${_letter(column)}${rows + 1}"
        first = place.split(":")[0]
        # Only as long as there are names: blanks at the end would let anything pass.
        length = f'MAX(1,COUNTIF({place},"?*"))'
        names[sort] = f"list_{sort}"
        book.defined_names[names[sort]] = DefinedName(names[sort], attr_text=f"{first}:INDEX({place},{length})")
        column += 3 if written else 1
    return names


def _sorts() -> list[str]:
    """Every list a field asks for, in the order of kinds.toml."""
    found = (sort_of(field) for kind in dictionary().kinds.values() for field in kind.fields)
    return list(dict.fromkeys(sort for sort in found if sort))


def _listed(sort: str, known: Mapping[str, Sequence[str]]) -> list[str]:
    """The names known beforehand, each once without regard to case."""
    plain = sort.removesuffix("_or_all")
    names = [*(["*"] if plain != sort else []), *known.get(plain, ())]
    if plain == "packages":
        names += [*READY_MADE, *READY_CASES]
    if plain == "lots":
        names += known.get("vessels", ())  # a tank's name will do for the lot in it
    unlike: dict[str, str] = {}
    for name in names:
        unlike.setdefault(name.casefold(), name)
    return list(unlike.values())


def _places(sort: str) -> Iterator[str]:
    """A formula for every cell of the other sheets where a name of this sort is brought in; example rows are blank."""
    for kind in dictionary().kinds.values():
        for number, field in enumerate(kind.fields, start=1):
            if field.defines == sort or (sort == "lots" and field.defines == "vessels"):
                cell = f"{kind.name}!{_letter(number)}"
                for row in range(2, ROWS_LOOKED_AT[kind.group] + 2):
                    yield f'=IF(LEFT(TRIM({kind.name}!$A{row}),8)="example:","",TRIM({cell}{row}))'


def _gather(ws: Any, column: int, sort: str, known: int, rows: int) -> None:
    """The count of new names beside the written ones, and the list's own formulas below the known names."""
    last = rows + 1
    text, number = _letter(column + 1), _letter(column + 2)
    ws.cell(1, column + 2, f"{sort} number")
    for row in range(2, last + 1):
        before = "0" if row == 2 else f"{number}{row - 1}"
        first = f"MATCH({text}{row},{text}$2:{text}${last},0)={row - 1}"
        ws.cell(row, column + 2, f'={before}+IF({text}{row}="",0,IF(IFERROR({first},FALSE),1,0))')
    for row in range(known + 2, last + 1):
        ws.cell(
            row, column, f'=IFERROR(INDEX({text}$2:{text}${last},MATCH({row - 1},{number}$2:{number}${last},0)),"")'
        )


def _put(ws: Any, column: int, heading: str, names: Sequence[str]) -> None:
    ws.cell(1, column, heading)
    for row, name in enumerate(names, start=2):
        cell = ws.cell(row, column, name)
        cell.data_type = "s"  # a name that begins with = is text all the same
        cell.number_format = "@"


def _letter(number: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(number))
