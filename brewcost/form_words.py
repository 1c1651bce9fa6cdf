"""What the blank log workbook says: its order, the explanation on each heading, the warnings, the page's foot."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from brewcost.kinds import Field, Kind, dictionary
from brewcost.names import SINGULAR, one

# A spreadsheet program cuts a warning off beyond this.
LONGEST_WARNING = 225


@dataclass(frozen=True)
class Group:
    """Sheets that belong together, under one colour of tab; the title says so in words."""

    title: str
    colour: str
    kinds: tuple[str, ...]


GROUPS = (
    Group("Every day", "2F75B5",
          ("brews", "uses", "moves", "readings", "packaging", "shipments", "returns", "receipts", "labour")),
    Group("What the names mean: once, and when something is new", "548235",
          ("beers", "materials", "packages", "vessels", "vessel_scale", "accounts", "recipes", "package_materials",
           "standards", "prices")),
    Group("At the month's end", "BF8F00", ("counts", "expenses", "byproducts", "empties", "ledger")),
    Group("Now and then", "7F7F7F", ("invoices", "credits", "repacks", "beer_in", "filings", "payments")),
    Group("Once, where the books begin in the middle of a life", "7030A0",
          ("opening_materials", "opening_lots", "opening_goods", "opening_duty")),
)  # fmt: skip

USING = (
    "Type each record into its sheet, one a row, below the example; or print a sheet and fill it in by hand. Then run "
    "`brewcost check`: it reads this workbook as it lies in the folder `inputs`.",
    "A heading with a star, in bold on dark, must be filled in; the others only where there is something to say. Point "
    "at a heading to read what belongs there. Dates are written 2026-03-14, months 2026-03.",
    "The grey row 2 is an invented example. It is passed over as long as it stays as it is; write a record "
    "over the whole of it, its first cell too, or delete it.",
    "Names come from the drop-downs. Write a beer, material, vessel or account on its own sheet first and every other "
    "sheet offers it. half_bbl, sixth_bbl, keg_50L, case_24x12 and the like need no record: a case is "
    "case_ containers x fluid ounces, or millilitres as case_24x330mL.",
    "Sheets and columns you do not need may be deleted. Do not rename headings; a sheet's name must begin with the "
    "kind of record, as `shipments March`. Start a new copy each month or year if you like, under another file name: "
    "all workbooks in `inputs` are read together. Take out a file that another one repeats.",
)


def choices(field: Field) -> tuple[str, ...]:
    """The closed list of a field: choices, units, yes and no; empty where it has none."""
    if field.type == "flag":
        return ("yes", "no")
    if field.type == "unit":
        return dictionary().units_of(field)
    return field.choices


def comment(kind: Kind, field: Field) -> str:
    """The explanation on a heading: what it is, whether it must be filled in, what it takes, what a blank means."""
    parts = [f"{field.name}: {_must(kind, field)}", field.meaning, _takes(kind, field)]
    if field.default is not None and not field.required:
        parts.append(f"Blank means {field.default}.")
    if kind.key == (field.name,):
        parts.append(f"Each {field.name} stands once.")
    return "\n".join(part for part in parts if part)


def _must(kind: Kind, field: Field) -> str:
    if field.name == "site" and field.required:
        return "must be filled in (may stay blank where there is only one site)."
    if field.required:
        return "must be filled in."
    if field.name in (kind.required_unless or {}):
        return f"must be filled in, unless {(kind.required_unless or {})[field.name]} is yes."
    if any(field.name in group for group in kind.exactly_one):
        return f"fill in exactly one of {_one_of(kind)}."
    if field.name in kind.at_most_one:
        return f"fill in at most one of {', '.join(kind.at_most_one)}."
    return "may stay blank."


def _one_of(kind: Kind) -> str:
    return ", ".join(" with ".join(group) for group in kind.exactly_one)


def _takes(kind: Kind, field: Field) -> str:
    """What may be written there, and in which unit."""
    if choices(field):
        return "One of: " + ", ".join(choices(field)) + "."
    if field.of:
        singular, _, where = SINGULAR[field.of]
        star = ", or * for all" if field.or_all else ""
        return f"The name of {one(singular)} from {where}{star}."
    words = {"date": "A date, as 2026-03-14.", "month": "A month, as 2026-03.", "area": "As US or US-ME."}
    if field.type in words:
        return words[field.type]
    if field.type == "money":
        return "Money, in the currency of brewery.toml." + _range(field)
    if field.is_number:
        number = "A whole number." if field.type == "whole" else "A number."
        return number + _range(field) + _unit(kind, field)
    return ""


def _range(field: Field) -> str:
    if field.signed:
        return " May be negative."
    if field.above is not None:
        return f" Above {_plain(field.above)}."
    return f" From {_plain(field.least)} on." if field.least else ""


def _unit(kind: Kind, field: Field) -> str:
    if field.unit is None:
        return ""
    default = kind.field(field.unit).default
    return f" Unit: {default}, unless {field.unit} says another." if default else f" Its unit stands in {field.unit}."


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"


def refusal(kind: Kind, field: Field) -> tuple[str, str]:
    """The title and text of the warning for a value that does not fit; at most 32 and 225 characters."""
    if field.of:
        singular, _, where = SINGULAR[field.of]
        text = f"There is no {singular} of this name yet. Choose one from the list, or write it into {where} first."
    elif field.type == "month":
        text = "Write a month as 2026-03."
    elif field.type == "date":
        text = "Write a date as 2026-03-14."
    elif choices(field):
        text = "Choose one from the list: " + ", ".join(choices(field)) + "."
    else:
        text = f"{_takes(kind, field)} No unit beside it, no words."
        if not field.signed and field.above is None and not field.least:
            text = text.replace("No unit", "Not negative. No unit")
    if len(text) > LONGEST_WARNING:
        text = text[: LONGEST_WARNING - 4].rsplit(",", 1)[0] + " ..."
    return field.name[:32], text


def footer(kind: Kind) -> list[str]:
    """The lines at the foot of a printed page: what a star means, units, which fields exclude each other."""
    units = [field for field in kind.fields if field.type == "unit" and field.default]
    lines = ["* must be filled in; the rest where there is something to say. Dates 2026-03-14."]
    if units:
        lines.append("Blank " + ", ".join(f"{field.name}: {field.default}" for field in units) + ".")
    if kind.exactly_one:
        lines.append(f"Exactly one of {_one_of(kind)}.")
    if kind.at_most_one:
        lines.append(f"At most one of {', '.join(kind.at_most_one)}.")
    return lines
