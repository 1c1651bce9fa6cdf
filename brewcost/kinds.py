"""The dictionary of input, kinds.toml: every kind of record, every field, what each means and may hold."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

# A number without a limit of its own must still fit DECIMAL(18,6) when it is turned into another unit.
LARGEST_NUMBER = Decimal(1_000_000_000)
LARGEST_MONEY = Decimal(100_000_000_000)
LARGEST_WHOLE = Decimal(1_000_000)
MARK = "mark"  # a volume so written is a mark on the gauge of a vessel with a scale


@dataclass(frozen=True)
class Field:
    """One column of a kind of record; the attributes are explained at the head of kinds.toml."""

    name: str
    type: str
    meaning: str
    example: str
    required: bool = False
    default: str | None = None
    defines: str | None = None
    of: str | None = None
    suggest_only: bool = False
    or_all: bool = False
    unit: str | None = None
    family: str | None = None
    families: tuple[str, ...] = ()
    as_material: str | None = None
    choices: tuple[str, ...] = ()
    signed: bool = False
    above: Decimal | None = None
    least: Decimal | None = None
    below: Decimal | None = None
    before_books: bool = False
    marks: bool = False
    numbered_by: tuple[str, ...] | None = None

    @property
    def is_number(self) -> bool:
        return self.type in ("number", "money", "whole")

    @property
    def limit(self) -> Decimal:
        """The figure a number must stay below."""
        if self.below is not None:
            return self.below
        return {"money": LARGEST_MONEY, "whole": LARGEST_WHOLE}.get(self.type, LARGEST_NUMBER)


@dataclass(frozen=True)
class Kind:
    """One kind of record."""

    name: str
    group: str
    meaning: str
    fields: tuple[Field, ...]
    key: tuple[str, ...] = ()
    number_in: Mapping[str, str] | None = None
    exactly_one: tuple[tuple[str, ...], ...] = ()
    at_most_one: tuple[str, ...] = ()
    required_unless: Mapping[str, str] | None = None

    def field(self, name: str) -> Field:
        """The field of that name; KeyError where there is none."""
        for field in self.fields:
            if field.name == name:
                return field
        raise KeyError(name)

    def has(self, name: str) -> bool:
        return any(field.name == name for field in self.fields)

    @property
    def dated_by(self) -> Field | None:
        """The field that says to which month a row belongs."""
        return next((field for field in self.fields if field.name in ("date", "month", "filed_on")), None)


@dataclass(frozen=True)
class Dictionary:
    """Every kind, in the order of kinds.toml, and the units by family."""

    kinds: Mapping[str, Kind]
    units: Mapping[str, tuple[str, ...]]

    def units_of(self, field: Field) -> tuple[str, ...]:
        """The units a unit field takes."""
        if field.as_material:
            families: tuple[str, ...] = ("volume", "weight", "count")
        else:
            families = field.families or ((field.family,) if field.family else ())
        units = tuple(unit for family in families for unit in self.units[family])
        return (*units, MARK) if field.marks else units

    def kind_of(self, name: str) -> Kind | None:
        """The kind a file or sheet of this name holds: the name begins with the kind's, then nothing or a hyphen, dot
        or space and anything after. Upper and lower case are the same."""
        wanted = name.strip().casefold()
        found = [
            kind
            for kind in self.kinds.values()
            if re.match(kind.name.replace("_", "[_ ]") + r"($|[-. ])", wanted)
        ]
        return max(found, key=lambda kind: len(kind.name), default=None)


@cache
def dictionary() -> Dictionary:
    """Read kinds.toml, once."""
    path = Path(__file__).with_name("kinds.toml")
    values = tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    kinds = {name: _kind(name, dict(entry)) for name, entry in values["kinds"].items()}
    return Dictionary(kinds, {family: tuple(units) for family, units in values["units"].items()})


def _kind(name: str, entry: dict[str, Any]) -> Kind:
    fields = tuple(_field(key, dict(value)) for key, value in entry.pop("fields").items())
    return Kind(
        name=name,
        fields=fields,
        key=tuple(entry.pop("key", ())),
        exactly_one=tuple(tuple(group.split("+")) for group in entry.pop("exactly_one", ())),
        at_most_one=tuple(entry.pop("at_most_one", ())),
        **entry,
    )


def _field(name: str, entry: dict[str, Any]) -> Field:
    for limit in ("above", "least", "below"):
        if limit in entry:
            entry[limit] = Decimal(entry[limit])
    if "numbered_by" in entry:
        entry["numbered_by"] = tuple(entry["numbered_by"])
    return Field(
        name=name,
        choices=tuple(entry.pop("choices", ())),
        families=tuple(entry.pop("families", ())),
        **entry,
    )
