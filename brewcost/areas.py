"""Area files: the law of one tax area as dated, referenced data. Read, checked key by key, or refused.

The format is told in DEVELOPERS.md. A brewery's own file in its folder under areas/ stands in place of the shipped one.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost.area_model import (
    ABV_PER_ABW,
    ACCOUNT_KINDS,
    BASES,
    BREWERS,
    COMPOUNDED,
    FORMS,
    LEVELS,
    MILLILITRES,
    MODES,
    PAYERS,
    PURPOSES,
    ROUNDINGS,
    SCOPES,
    TAXED,
    Area,
    AreaError,
    Band,
    Credit,
    Equivalent,
    Interest,
    Limits,
    PeriodRule,
    Rate,
    Relief,
    Remission,
    Rounding,
)
from brewcost.areas_check import check_rates, check_reliefs, check_remissions
from brewcost.due_dates import HOLIDAYS, LENGTHS, ROLLS, DueRule
from brewcost.settings_model import UNPRINTABLE

if TYPE_CHECKING:
    import duckdb

    from brewcost.settings_model import Settings

SHIPPED = Path(__file__).with_suffix("")
FIRST_DAY = date(1800, 1, 1)
# The largest figures, so that no product of them leaves its column: a rate or price, and a quantity or sum of money.
_RATE, _MUCH = "10000000", "1000000000"


class _Keys:
    """One table of an area file: hands out keys with a check, and complains about those nobody asked for."""

    def __init__(self, values: Any, file: str, where: str) -> None:
        self.file, self.where = file, where
        if not isinstance(values, dict):
            raise self.wrong(where, "must be a table")
        self.left = dict(values)

    def wrong(self, key: str, message: str) -> AreaError:
        return AreaError(f"{self.file}: {self.where}{'.' if self.where and key else ''}{key} {message}")

    def take(self, key: str, kind: type | tuple[type, ...], expected: str, default: Any = ...) -> Any:
        if key not in self.left:
            if default is ...:
                raise self.wrong(key, f"is missing; expected {expected}")
            return default
        value = self.left.pop(key)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.wrong(key, f"is {value!r}; expected {expected}")
        return value

    def text(self, key: str, choices: Sequence[str] = (), default: Any = ...) -> Any:
        value = self.take(key, str, "one of " + ", ".join(choices) if choices else "text in quotes", default)
        if value is not None and choices and value not in choices:
            raise self.wrong(key, f"is {value!r}; expected one of {', '.join(choices)}")
        if isinstance(value, str) and not value.strip():
            raise self.wrong(key, "is empty; expected text")
        if isinstance(value, str) and UNPRINTABLE.search(value):
            raise self.wrong(key, f"is {value!r}; expected text without control characters")
        return value

    def number(self, key: str, low: str | Decimal, high: str | Decimal, default: Any = ...) -> Any:
        expected = f"a number from {low} to {high} with at most 6 decimals"
        value = self.take(key, (int, Decimal), expected, default)
        if value is None:
            return None
        number = Decimal(value)
        if not number.is_finite() or not Decimal(low) <= number <= Decimal(high) or number != round(number, 6):
            raise self.wrong(key, f"is {value}; expected {expected}")
        return number

    def whole(self, key: str, low: int, high: int, default: Any = ...) -> Any:
        expected = f"a whole number from {low} to {high}"
        value = self.take(key, int, expected, default)
        if value is not None and not low <= value <= high:
            raise self.wrong(key, f"is {value}; expected {expected}")
        return value

    def day(self, key: str, default: Any = ...) -> Any:
        """A date; None for a `to` on the last day there is, which many write where there is no end."""
        value = self.take(key, date, "a date such as 2026-03-14", default)
        if isinstance(value, datetime) or (value is not None and value < FIRST_DAY):
            raise self.wrong(key, f"is {value}; expected a date such as 2026-03-14, without a time, from {FIRST_DAY} on")
        return None if key == "to" and value == date.max else value

    def flag(self, key: str) -> bool:
        return bool(self.take(key, bool, "true or false", False))

    def names(self, key: str, choices: Sequence[str], default: tuple[str, ...] = ()) -> tuple[str, ...]:
        values = self.take(key, list, "a list of " + ", ".join(choices or ("texts",)), list(default))
        for value in values:
            if not isinstance(value, str) or (choices and value not in choices):
                raise self.wrong(key, f"holds {value!r}; expected {', '.join(choices) or 'texts'}")
        return tuple(values)

    def table(self, key: str) -> _Keys:
        return _Keys(self.left.pop(key, {}), self.file, f"{self.where}{'.' if self.where else ''}{key}")

    def tables(self, key: str) -> list[_Keys]:
        rows = self.take(key, list, "a list of tables", [])
        return [_Keys(row, self.file, f"{self.where}{'.' if self.where else ''}{key}[{n}]") for n, row in enumerate(rows, 1)]

    def done(self) -> None:
        for key in self.left:
            raise self.wrong(key, "is not a key of area files")


def own_files(folder: Path) -> list[Path]:
    """The files under FOLDER/areas/, sorted; raises AreaError for one that is no area file."""
    files = []
    for path in sorted((folder / "areas").glob("*")):
        # Lock files of other programs and hidden files of the system say nothing.
        if not path.is_file() or path.name.startswith((".", "~$")) or path.name.casefold() in ("thumbs.db", "desktop.ini"):
            continue
        if path.suffix.casefold() != ".toml":
            raise AreaError(f"areas/{path.name} is not read; expected area files such as US-ME.toml, and nothing else there")
        files.append(path)
    return files


def of_brewery(folder: Path) -> dict[str, Area]:
    """The brewery's own area files under FOLDER/areas/; raises AreaError as `load` does, and for a file that is none."""
    found: dict[str, Area] = {}
    for path in own_files(folder):
        if path.stem in found:
            raise AreaError(f"areas/{path.name} and {found[path.stem].file} are both of {path.stem}; expected one")
        found[path.stem] = read(path, True)
    return found


def load(folder: Path | None = None) -> dict[str, Area]:
    """Every area file: the shipped ones, and in their place those of the brewery under FOLDER/areas/.

    Raises:
        AreaError: a file cannot be used; the message names it and the key.
    """
    ours = of_brewery(folder) if folder else {}
    shipped = {path.stem: read(path) for path in SHIPPED.glob("*.toml") if path.stem not in ours}
    return dict(sorted((shipped | ours).items()))


def read(path: Path, own: bool = False) -> Area:
    """Read one area file.

    Raises:
        AreaError: it is no TOML, a key is unknown, missing or wrong, its rates overlap or leave a gap, or its reliefs overlap.
    """
    name = f"areas/{path.name}"
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8-sig"), parse_float=Decimal)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, ValueError) as error:
        raise AreaError(f"{name}: {error}") from error
    area = _area(_Keys(values, name, ""), path.stem, own)
    check_rates(area)
    check_reliefs(area)
    check_remissions(area)
    return area


def _area(top: _Keys, stem: str, own: bool) -> Area:
    area = top.text("area")
    if area != stem or not re.fullmatch(r"[A-Z]{2}(-[A-Z0-9]{1,6})*", area):
        raise top.wrong("area", f"is {area!r}; expected the file's name, an ISO 3166 code such as US-ME")
    texts = {key: top.text(key) for key in ("name", "authority", "edition")}
    texts["level"] = top.text("level", LEVELS)
    texts["payer"] = top.text("payer", PAYERS)
    texts["returns"] = top.text("returns", ("site", "brewer"), "site")
    texts["event"] = top.text("event", ("removal", "packaging"), "removal")
    texts["default_period"] = top.text("default_period", LENGTHS)
    for key in ("licence_authority", "payer_source", "returns_source", "default_producer", "over_2_million_producer",
                "production_unit", "incomplete"):  # fmt: skip
        texts[key] = top.text(key, default=None)
    basis = top.text("basis", BASES)
    month, _, day = top.text("counter_starts", default="01-01").partition("-")
    if day != "01" or month not in {f"{n:02}" for n in range(1, 13)}:
        raise top.wrong("counter_starts", 'must be the first of a month, such as "07-01"')
    rounding = _rounding(top.table("rounding"))
    purposes = top.table("purposes")
    taxed = purposes.names("taxed", PURPOSES, TAXED)
    purposes.text("source", default=None)
    purposes.done()
    equivalents = top.table("equivalents")
    sizes = tuple(_equivalent(row) for row in equivalents.tables("sizes"))
    equivalents_source = equivalents.text("source", default=... if sizes else None)
    not_listed = equivalents.text("not_listed", default=None)
    overfill = equivalents.number("keg_overfill_pct", "0", "100", None)
    equivalents.done()
    discount = None
    if "discount" in top.left:
        row = top.table("discount")
        discount = (row.number("pct", "0", "100"), row.text("when"), row.text("source"))
        row.done()
    result = Area(
        area=area,
        file=top.file,
        own=own,
        texts=texts,
        currency=top.text("currency"),
        tax_classes=top.names("tax_classes", ("beer", "cereal_beverage", "soft_drink"), ("beer",)),
        taxed=taxed,
        notes=top.names("notes", ()),
        rounding=rounding,
        periods=tuple(_period(row) for row in top.tables("periods")),
        counter_month=int(month),
        beer_from_abv=top.number("beer_from_abv", "0", "100", None),
        relief_until=top.number("relief_until", "0", _MUCH, None),
        claim_months=top.number("claim_months", "0", "1200", None),
        transit_loss_pct=top.number("transit_loss_pct", "0", "100", None),
        claims_source=top.text("claims_source", default=None),
        rates=tuple(_rate(row, basis) for row in top.tables("rates")),
        reliefs=tuple(_relief(row) for row in top.tables("reliefs")),
        remissions=tuple(_remission(row) for row in top.tables("remissions")),
        equivalents=sizes,
        equivalents_source=equivalents_source,
        not_listed=not_listed,
        keg_overfill_pct=overfill,
        discount=discount,
        credits=tuple(_credit(row) for row in top.tables("credits")),
        interest=tuple(_interest(row) for row in top.tables("interest")),
    )
    top.done()
    for earlier, later in pairwise(result.interest):
        if earlier.to_date is None or earlier.to_date >= later.from_date:
            raise top.wrong("interest", f"from {later.from_date} overlaps the rate before; each needs a to, in order of date")
    if not result.rates:
        raise top.wrong("rates", "is missing; expected at least one [[rates]]")
    if texts["default_period"] not in {rule.length for rule in result.periods}:
        raise top.wrong("default_period", f"is {texts['default_period']!r}; no [[periods]] has that length")
    return result


def _rounding(table: _Keys) -> dict[str, Rounding]:
    found = {}
    for kind in ROUNDINGS:
        if kind not in table.left:
            continue
        row = table.table(kind)
        places = row.whole("places", 0, 6)
        scope = row.text("scope", SCOPES, "return")
        found[kind] = Rounding(places, row.text("mode", MODES), scope, row.text("source"))
        row.done()
    table.done()
    if "money" not in found:
        raise table.wrong("money", "is missing; expected how money is rounded")
    return found


def _period(row: _Keys) -> PeriodRule:
    rule, pay = (_due(row.table(key)) if key in row.left else None for key in ("due", "pay"))
    period = PeriodRule(row.text("length", LENGTHS), rule, pay, row.number("at_most_tax", "0", _MUCH, None), row.text("source"))
    row.done()
    return period


def _due(due: _Keys) -> DueRule:
    rule = DueRule(
        days_after=due.whole("days_after", 0, 366, None),
        day=due.whole("day", 1, 28, None),
        last_day=due.flag("last_day"),
        working_day=due.whole("working_day", 1, 20, None),
        roll=due.text("roll", ROLLS, "none"),
        holidays=due.text("holidays", HOLIDAYS, "none"),
        september=due.flag("september"),
    )
    due.done()
    if sum((rule.days_after is not None, rule.day is not None, rule.last_day, rule.working_day is not None)) != 1:
        raise due.wrong("", "must have exactly one of days_after, day, last_day, working_day")
    return rule


def _limits(row: _Keys, name: str, factor: Decimal) -> Limits:
    most = "100" if name in ("abv", "abw") else "100000000"
    ends: dict[str, Decimal | None] = {
        end: row.number(f"{name}_{end}", "0", most, None) for end in ("over", "from", "up_to", "below")
    }
    if None not in (ends["over"], ends["from"]) or None not in (ends["up_to"], ends["below"]):
        raise row.wrong(name, "has two lower or two upper limits; expected _over or _from, _up_to or _below")
    low = ends["from"] if ends["over"] is None else ends["over"]
    high = ends["below"] if ends["up_to"] is None else ends["up_to"]
    return (
        None if low is None else low * factor,
        ends["from"] is not None,
        None if high is None else high * factor,
        ends["up_to"] is not None,
    )


def _conditions(row: _Keys) -> dict[str, tuple[str, ...]]:
    return {
        "forms": row.names("forms", FORMS),
        "purposes": row.names("purposes", PURPOSES),
        "account_kinds": row.names("account_kinds", ACCOUNT_KINDS),
        "brewed_by": row.names("brewed_by", BREWERS),
    }


def _strength(row: _Keys) -> Limits:
    by_weight = _limits(row, "abw", ABV_PER_ABW)
    return by_weight if by_weight != (None, False, None, False) else _limits(row, "abv", Decimal(1))


def _rate(row: _Keys, area_basis: str) -> Rate:
    start, known = row.day("from", None), row.day("known_from", None)
    checked, unverified = row.day("checked", None), row.flag("unverified")
    if start and known:
        raise row.wrong("known_from", "stands beside from; expected one of them")
    if not checked and not unverified:
        raise row.wrong("checked", "is missing; expected the day it was compared with its source, or unverified = true")
    first = start or known or checked
    if first is None:
        raise row.wrong("from", "is missing; expected from, known_from (the first day a source shows it), or checked")
    basis = row.text("basis", BASES, area_basis)
    unit = row.text("container_unit", tuple(MILLILITRES), "mL")
    step, step_unit = row.number("step", "0.001", "1000000", None), row.text("step_unit", tuple(MILLILITRES), "floz")
    if (basis == "container_step") != (step is not None):
        raise row.wrong("step", "goes with basis container_step, and only with it")
    step_ml = None if step is None else step * MILLILITRES[step_unit]
    if step_ml is not None and not 1 <= step_ml <= 10**7:
        raise row.wrong("step", f"is {step} {step_unit}; expected 1 mL to 10,000 L")
    rate = Rate(
        tax=row.text("tax", default="beer duty"),
        from_date=first,
        start_known=start is not None,
        to_date=row.day("to", None),
        basis=basis,
        per=row.number("per", "0.001", "1000000", Decimal(1)),
        step_ml=step_ml,
        alcohol_above=row.number("alcohol_above", "0", "100", Decimal(0)),
        bands_unit=row.text("bands_unit", tuple(MILLILITRES), None),
        counter=row.text("counter", default="all"),
        producer=row.text("producer", default=None),
        conditions=_conditions(row),
        abv=_strength(row),
        size=_limits(row, "container", MILLILITRES[unit]),
        bands=_bands(row),
        source=row.text("source"),
        checked=checked,
        unverified=unverified,
        note=row.text("note", default=None),
    )
    row.done()
    _in_order(row, rate)
    return rate


def _in_order(row: _Keys, dated: Rate | Relief | Interest) -> None:
    if dated.to_date and dated.to_date < dated.from_date:
        raise row.wrong("to", f"is {dated.to_date}, before {dated.from_date}")


def _bands(row: _Keys) -> tuple[Band, ...]:
    if "rate" in row.left:
        return (Band(row.text("name", default="all"), None, False, row.number("rate", "0", _RATE)),)
    bands = []
    for band in row.tables("bands"):
        bands.append(
            Band(band.text("name"), band.number("up_to", "0", _MUCH, None), band.flag("quota"), band.number("rate", "0", _RATE))
        )
        band.done()
    limits = [band.up_to for band in bands]
    if not bands:
        raise row.wrong("rate", "is missing; expected rate = ... or bands = [...]")
    if limits[-1] is not None or None in limits[:-1]:
        raise row.wrong("bands", "must have up_to in every band but the last, so that they leave no gap")
    if any(a is not None and b is not None and a >= b for a, b in pairwise(limits)):
        raise row.wrong("bands", "must rise: each up_to above the one before, so that they do not overlap")
    return tuple(bands)


def _relief(row: _Keys) -> Relief:
    kind = row.text("kind", ("percent", "discount"))
    unit = row.text("container_unit", tuple(MILLILITRES), "mL")
    relief = Relief(
        kind=kind,
        from_date=row.day("from"),
        to_date=row.day("to", None),
        over=row.number("production_over", "0", _MUCH),
        up_to=row.number("production_up_to", "0", _MUCH),
        base=row.number("base", f"-{_RATE}", _RATE, Decimal(0) if kind == "percent" else ...),
        marginal=row.number("marginal", f"-{_RATE}", _RATE, Decimal(0) if kind == "percent" else ...),
        percent=row.number("percent", "0", "100", ... if kind == "percent" else Decimal(100)),
        producer=row.text("producer", default=None),
        conditions=_conditions(row),
        abv=_strength(row),
        size=_limits(row, "container", MILLILITRES[unit]),
        source=row.text("source"),
        unverified=row.flag("unverified"),
    )
    row.done()
    _in_order(row, relief)
    if relief.up_to <= relief.over:
        raise row.wrong("production_up_to", f"is {relief.up_to}; expected more than production_over, {relief.over}")
    return relief


def _remission(row: _Keys) -> Remission:
    checked, unverified = row.day("checked", None), row.flag("unverified")
    if not checked and not unverified:
        raise row.wrong("checked", "is missing; expected the day it was compared with its source, or unverified = true")
    remission = Remission(
        name=row.text("name", default="remission"),
        from_date=row.day("from"),
        to_date=row.day("to", None),
        cap=row.number("cap", "0", _MUCH),
        source=row.text("source"),
        checked=checked,
        unverified=unverified,
    )
    row.done()
    return remission


def _interest(row: _Keys) -> Interest:
    interest = Interest(
        from_date=row.day("from"),
        to_date=row.day("to", None),
        rate_pct=row.number("rate_pct", "0", "1000"),
        compounded=row.text("compounded", COMPOUNDED),
        source=row.text("source"),
        unverified=row.flag("unverified"),
    )
    row.done()
    _in_order(row, interest)
    return interest


def _credit(row: _Keys) -> Credit:
    credit = Credit(row.text("name"), row.text("text"), row.text("source"), row.flag("unverified"))
    row.done()
    return credit


def _equivalent(row: _Keys) -> Equivalent:
    size = row.take("size", (int, Decimal, str), 'a number, or a fraction such as "31/3"')
    unit = row.text("unit", tuple(MILLILITRES))
    try:
        millilitres = Fraction(str(size)) * Fraction(MILLILITRES[unit])
    except (ValueError, ArithmeticError) as error:
        raise row.wrong("size", f"is {size!r}; expected a number, or a fraction such as \"31/3\"") from error
    if not 1 <= millilitres <= 10**9:
        raise row.wrong("size", f"is {size} {unit}; expected 1 mL to 1,000,000 L")
    equivalent = Equivalent(
        form=row.text("form", FORMS, None),
        container_ml=Decimal(round(millilitres * 10000)) / 10000,
        containers=row.whole("containers", 1, 1000000, 1),
        barrels=row.number("barrels", "0.00001", "1000000"),
    )
    row.done()
    return equivalent


def made_from(folder: Path, settings: Settings) -> str:
    """What the frames are made from besides this program, of which the shipped files are part; raises AreaError."""
    return repr((of_brewery(folder), settings.filers, settings.first_month))


def register(con: duckdb.DuckDBPyConnection, folder: Path | None, settings: Settings) -> None:
    """Hand every area file to the database as `given_area_*` frames (see areas_frames).

    Raises:
        AreaError: an area file, or a filer of brewery.toml that asks for what its area does not know.
    """
    from brewcost.areas_frames import register_frames

    register_frames(con, load(folder), settings)
