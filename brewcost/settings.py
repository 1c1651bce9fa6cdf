"""brewery.toml: read it and check every key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from brewcost.chart import BY_AREA, CHART
from brewcost.settings_model import (
    APPLIES_TO,
    DEFAULT_ALLOWED,
    DEFAULT_OVERDUE_DAYS,
    DEFAULT_POUR_LOSS,
    DEFAULT_TOLERANCE,
    DRIVERS,
    ELEMENTS,
    GLASSES,
    METHODS,
    NUMBER_STYLES,
    OWN_HOUSES,
    POOL_STAGES,
    PRODUCTION_POINTS,
    RETURN_PERIODS,
    STAGES,
    TANKS,
    UNPRINTABLE,
    Filer,
    Pool,
    Settings,
    SettingsError,
    Site,
)

_MONTH = re.compile(r"(19|20|21)[0-9]{2}-(0[1-9]|1[0-2])")
_BELOW = 10**12  # what the columns of the database hold


class _Table:
    """One table of the file: hands out keys with a check, and complains about what nobody asked for."""

    def __init__(self, values: Any, where: str) -> None:
        if not isinstance(values, dict):
            raise SettingsError(f"brewery.toml: {where} must be a table")
        for key in values:
            if UNPRINTABLE.search(key):
                raise SettingsError(f"brewery.toml: {where} {key!r} is a name with a control character; expected none")
        self.values: dict[str, Any] = dict(values)
        self.where = where

    def fail(self, key: str, expected: str) -> SettingsError:
        found = self.values.get(key)
        shown = "is missing" if found is None else f"is {found!r}"
        place = f"{self.where} " if self.where else ""
        return SettingsError(f"brewery.toml: {place}{key} {shown}; expected {expected}")

    def text(self, key: str, choices: Sequence[str] = (), default: str | None = None) -> str | None:
        value = self.values.get(key, default)
        expected = f"one of {', '.join(choices)}" if choices else "text in quotes"
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip() or (choices and value not in choices):
            raise self.fail(key, expected)
        if UNPRINTABLE.search(value):
            raise self.fail(key, "text without control characters")
        return value.strip()

    def needed(self, key: str, choices: Sequence[str] = ()) -> str:
        value = self.text(key, choices)
        if value is None:
            raise self.fail(key, f"one of {', '.join(choices)}" if choices else "text in quotes")
        return value

    def month(self, key: str, default: str | None = None) -> str:
        value = self.values.get(key, default)
        if not isinstance(value, str) or not _MONTH.fullmatch(value):
            raise self.fail(key, 'a month such as "2026-03", from 1900-01 to 2199-12')
        return value

    def number(self, key: str, default: str | None = None, low: str = "0") -> Decimal | None:
        value = self.values.get(key, default)
        if value is None:
            return None
        if (
            isinstance(value, bool)
            or not isinstance(value, (int, Decimal, str))
            or (isinstance(value, str) and key in self.values)
        ):
            raise self.fail(key, "a number")
        number = Decimal(value)
        if not _is_within(number, low):
            raise self.fail(key, f"a number from {low} to below {_BELOW}")
        return number.quantize(Decimal("0.000001"))

    def flag(self, key: str) -> bool:
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            raise self.fail(key, "true or false")
        return value

    def only(self, known: Sequence[str]) -> None:
        for key in self.values:
            if key not in known:
                raise SettingsError(
                    f"brewery.toml: {self.where + ' ' if self.where else ''}{key} is not a setting; "
                    f"the settings here are {', '.join(known)}"
                )


def _is_within(number: Decimal, low: str) -> bool:
    return number.is_finite() and Decimal(low) <= number < _BELOW


def load(path: Path) -> Settings:
    """Read brewery.toml.

    Args:
        path: the file.

    Raises:
        SettingsError: it is missing, is not TOML, or a key is unknown, missing or out of range; the message says which
            and what was expected.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise SettingsError(f"{path} is missing; `brewcost start FOLDER` makes a folder with one") from None
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path} cannot be read: {error}") from error
    try:
        return parse(tomllib.loads(text, parse_float=Decimal))
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: {error}") from error


def parse(values: Mapping[str, Any]) -> Settings:
    """The settings in an already parsed brewery.toml (decimals as Decimal); raises SettingsError as `load` does."""
    top = _Table(dict(values), "")
    top.only(
        ("name", "currency", "first_month", "number_style", "costing", "sites", "allowed_loss_pct",
         "reading_tolerance_bbl", "pools", "filers", "accounts", "margins", "kegs")
    )  # fmt: skip
    costing = _Table(values.get("costing", {}), "[costing]")
    costing.only(("materials", "goods", "own_houses"))
    sites = tuple(_site(_Table(row, "[[sites]]")) for row in _rows(values, "sites"))
    if not sites:
        raise SettingsError('brewery.toml: no [[sites]]; expected at least one, with site = "main" and its area')
    names = [site.site.casefold() for site in sites]
    for name in names:
        if names.count(name) > 1:
            raise SettingsError(f"brewery.toml: the site {name!r} stands twice in [[sites]]")
    first_month = top.month("first_month")
    pools = tuple(_pool(_Table(row, "[[pools]]"), first_month, sites) for row in _rows(values, "pools"))
    seen: set[tuple[str, str | None, str]] = set()
    for pool in pools:
        key = (pool.pool.casefold(), pool.site, pool.from_month)
        if key in seen:
            raise SettingsError(f"brewery.toml: [[pools]] {pool.pool!r} stands twice from {pool.from_month}")
        seen.add(key)
    return Settings(
        name=top.needed("name"),
        currency=top.text("currency", default="USD") or "USD",
        first_month=first_month,
        sites=sites,
        materials_method=costing.text("materials", METHODS, "fifo") or "fifo",
        goods_method=costing.text("goods", METHODS, "fifo") or "fifo",
        own_houses=costing.text("own_houses", OWN_HOUSES, OWN_HOUSES[0]) or OWN_HOUSES[0],
        number_style=top.text("number_style", NUMBER_STYLES, "1,234.56") or "1,234.56",
        allowed_loss_pct=_figures(values, "allowed_loss_pct", STAGES, DEFAULT_ALLOWED, Decimal(100)),
        reading_tolerance_bbl=_figures(values, "reading_tolerance_bbl", TANKS, DEFAULT_TOLERANCE, None),
        pools=pools,
        filers=_filers(values, sites),
        accounts=_accounts(_Table(values.get("accounts", {}), "[accounts]")),
        **_margins(_Table(values.get("margins", {}), "[margins]")),
        **_kegs(_Table(values.get("kegs", {}), "[kegs]")),
    )


def _accounts(table: _Table) -> dict[str, str]:
    """The numbers given in [accounts]: by role, or by role and area where the chart keeps one for each area."""
    for key in table.values:
        role, _, area = key.partition(" ")
        if role not in CHART or (area and role not in BY_AREA):
            table.only(tuple(CHART))
    return {key: table.needed(key) for key in table.values}


def _rows(values: Mapping[str, Any], key: str) -> list[Any]:
    rows = values.get(key, [])
    if not isinstance(rows, list):
        raise SettingsError(f"brewery.toml: write [[{key}]] with double brackets, one block each")
    return rows


def _figures(
    values: Mapping[str, Any], key: str, names: Sequence[str], defaults: Mapping[str, str], below: Decimal | None
) -> dict[str, Decimal]:
    table = _Table(values.get(key, {}), f"[{key}]")
    table.only(names)
    figures = {name: table.number(name, defaults[name]) or Decimal(0) for name in names}
    for name, figure in figures.items():
        if below is not None and figure >= below:
            raise table.fail(name, f"a per cent below {below}")
    return figures


def _margins(table: _Table) -> dict[str, Any]:
    table.only(("pour_loss_pct", "glass"))
    if (pour_loss := table.number("pour_loss_pct", DEFAULT_POUR_LOSS) or Decimal(0)) >= 100:
        raise table.fail("pour_loss_pct", "a per cent below 100")
    return {"pour_loss_pct": pour_loss, "glass": table.text("glass", GLASSES, GLASSES[0])}


def _kegs(table: _Table) -> dict[str, Any]:
    table.only(("overdue_days", "deposit", "deposits"))
    days = table.values.get("overdue_days", DEFAULT_OVERDUE_DAYS)
    if isinstance(days, bool) or not isinstance(days, int) or not 0 <= days <= 36500:
        raise table.fail("overdue_days", "a whole number of days from 0 to 36500")
    sizes = _Table(table.values.get("deposits", {}), "[kegs] deposits")
    deposits: dict[str, Decimal] = {}
    for size in sizes.values:
        if size.casefold() in deposits:
            raise SettingsError(f"brewery.toml: [kegs] deposits {size!r} stands twice, in capitals or not; expected one")
        deposits[size.casefold()] = sizes.number(size) or Decimal(0)
    return {"keg_overdue_days": days, "keg_deposit": table.number("deposit"), "keg_deposits": deposits}


def _site(table: _Table) -> Site:
    table.only(("site", "area"))
    return Site(table.needed("site"), table.needed("area").upper())


def _named_site(table: _Table, sites: Sequence[Site]) -> str | None:
    given = table.text("site")
    for site in sites:
        if given is not None and site.site.casefold() == given.casefold():
            return site.site
    if given is None:
        return None
    raise table.fail("site", f"one of the sites {', '.join(site.site for site in sites)}")


def _pool(table: _Table, first_month: str, sites: Sequence[Site]) -> Pool:
    table.only(("pool", "site", "stage", "driver", "element", "applies_to", "behaviour", "normal_driver", "budget",
                "standard_rate", "standard_driver_per_bbl", "from_month"))  # fmt: skip
    name = table.needed("pool")
    table.where = f"[[pools]] {name!r}"
    stage = table.needed("stage", POOL_STAGES)
    # A driver of `none` keeps a pool out of stock wherever it arises.
    driver = table.needed("driver", (*DRIVERS[stage], "none") if stage != "period" else DRIVERS[stage])
    behaviour = table.needed("behaviour", ("fixed", "variable"))
    applies = _Table(table.values.get("applies_to", {}), f"{table.where} applies_to")
    applies.only(APPLIES_TO)
    if len(applies.values) > 1:
        raise table.fail("applies_to", f"one of {', '.join(APPLIES_TO)} = a name")
    applies_to = next(iter(applies.values), None)
    applies_value = None
    if applies_to is not None:
        choices = {"form": ("keg", "bottled"), "vessel_kind": TANKS}.get(applies_to, ())
        applies_value = applies.needed(applies_to, choices)
    shared_fixed = behaviour == "fixed" and driver != "none"
    fits = {
        "budget": shared_fixed,
        "standard_rate": behaviour == "variable" and driver != "none",
        "standard_driver_per_bbl": "budget" in table.values or "standard_rate" in table.values,
    }
    for key in fits:
        if key in table.values and not fits[key]:
            raise table.fail(key, _STANDARD_OF[key])
    return Pool(
        pool=name,
        site=_named_site(table, sites),
        from_month=table.month("from_month", first_month),
        stage=stage,
        driver=driver,
        element=table.text("element", ELEMENTS, "overhead") or "overhead",
        behaviour=behaviour,
        applies_to=applies_to,
        applies_value=applies_value,
        normals=_months(table, "normal_driver", "the driver's quantity in a normal month") if shared_fixed else (),
        budgets=_months(table, "budget", "what a month is planned to cost") if "budget" in table.values else (),
        standard_rate=table.number("standard_rate"),
        standard_driver_per_bbl=table.number("standard_driver_per_bbl"),
    )


# What a standard of a pool can be of.
_STANDARD_OF = {
    "budget": "no budget here: it is of a fixed pool that is shared by a driver",
    "standard_rate": "no standard rate here: it is of a variable pool that is shared by a driver",
    "standard_driver_per_bbl": "a budget (fixed pool) or a standard_rate (variable pool) beside it",
}


def _months(table: _Table, key: str, what: str) -> tuple[Decimal, ...]:
    """A figure for each calendar month."""
    given = table.values.get(key)
    figures: list[Any] = given if isinstance(given, list) else [given] * 12
    if len(figures) != 12 or any(
        isinstance(figure, bool) or not isinstance(figure, (int, Decimal)) or not _is_within(Decimal(figure), "0.001")
        for figure in figures
    ):
        raise table.fail(key, f"{what}: one figure from 0.001 to below {_BELOW}, or twelve")
    return tuple(Decimal(figure).quantize(Decimal("0.000001")) for figure in figures)


def _filers(values: Mapping[str, Any], sites: Sequence[Site]) -> tuple[Filer, ...]:
    filers = tuple(_filer(_Table(row, "[[filers]]"), sites) for row in _rows(values, "filers"))
    places: dict[tuple[str, str | None], int] = {}
    for number, filer in enumerate(filers, 1):
        first = places.setdefault((filer.area, filer.site), number)
        if first != number:
            whose = f"the site {filer.site}" if filer.site else "every site"
            raise SettingsError(
                f"brewery.toml: [[filers]] {filer.area} stands twice for {whose}, as entries {first} and {number}; expected one"
            )
    return filers


def _filer(table: _Table, sites: Sequence[Site]) -> Filer:
    table.only(
        ("area", "site", "return_period", "reduced_rate_quota_bbl", "over_2_million_bbl", "pays_by_eft",
         "expected_tax", "production_point", "producer", "annual_production", "remission", "remission_cap")
    )  # fmt: skip
    area = table.needed("area").upper()
    table.where = f"[[filers]] {area}"
    if "remission_cap" in table.values and not table.flag("remission"):
        raise table.fail("remission_cap", "remission = true beside it")
    return Filer(
        area=area,
        site=_named_site(table, sites),
        return_period=table.text("return_period", RETURN_PERIODS),
        reduced_rate_quota_bbl=table.number("reduced_rate_quota_bbl"),
        over_2_million_bbl=table.flag("over_2_million_bbl"),
        pays_by_eft=table.flag("pays_by_eft"),
        expected_tax=table.number("expected_tax"),
        production_point=table.text("production_point", PRODUCTION_POINTS),
        producer=table.text("producer"),
        annual_production=table.number("annual_production"),
        remission=table.flag("remission"),
        remission_cap=table.number("remission_cap"),
    )
