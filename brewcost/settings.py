"""brewery.toml: read it, check every key, hand it to the database."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost.chart import BY_AREA, CHART, ROLLED

if TYPE_CHECKING:
    import duckdb

METHODS = ("fifo", "average")
OWN_HOUSES = ("expensed", "counted")  # beer delivered to an own house: expensed at once, or stock until a count there
STAGES = ("kettle", "fermenter", "transfer", "bright_tank", "packaging")
TANKS = ("kettle", "fermenter", "bright_tank")
POOL_STAGES = ("brewhouse", "cellar", "packaging", "period")
# What each stage's cost can be shared by: brews in the brewhouse, lots in the cellar, runs in packaging.
DRIVERS: Mapping[str, tuple[str, ...]] = {
    "brewhouse": ("brews", "bbl_brewed", "grist_weight", "labour_hours"),
    "cellar": ("tank_days", "tank_bbl_days", "labour_hours"),
    "packaging": ("bbl_packaged", "packages_filled", "labour_hours"),
    "period": ("none",),
}
ELEMENTS = ("ingredients", "packaging", "labour", "overhead")
APPLIES_TO = ("package", "form", "vessel_kind", "beer")
RETURN_PERIODS = ("annual", "semiannual", "quarterly", "monthly", "semimonthly")
PRODUCTION_POINTS = ("into_fermenter", "out_of_fermenter")
NUMBER_STYLES = ("1,234.56", "1.234,56")
GLASSES = ("us_pint", "half_litre")
DEFAULT_ALLOWED = {"kettle": "5", "fermenter": "4", "transfer": "1", "bright_tank": "0.5", "packaging": "2"}
DEFAULT_TOLERANCE = {"kettle": "0.5", "fermenter": "0.5", "bright_tank": "0.25"}
DEFAULT_POUR_LOSS, DEFAULT_OVERDUE_DAYS = "5", 60  # a well-kept keg yields 95 % (trade article, low confidence)
LAST_MONTH = "9999-12"
_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")


class SettingsError(ValueError):
    """brewery.toml is missing or says something that cannot be used."""


@dataclass(frozen=True)
class Site:
    """One brewery site and the tax area it stands in."""

    site: str
    area: str


@dataclass(frozen=True)
class Pool:
    """A pool of cost from a month on: how it is shared out, and what is normal in each calendar month (C3)."""

    pool: str
    site: str | None
    from_month: str
    stage: str
    driver: str
    element: str
    behaviour: str
    applies_to: str | None
    applies_value: str | None
    normals: tuple[Decimal, ...]  # twelve figures, or none
    budgets: tuple[Decimal, ...] = ()  # twelve amounts of money, or none: what a fixed pool was planned to cost
    standard_rate: Decimal | None = None  # money a unit of the driver, of a variable pool
    standard_driver_per_bbl: Decimal | None = None


@dataclass(frozen=True)
class Filer:
    """Where the brewery files a return, and what the authority gave it."""

    area: str
    site: str | None = None
    return_period: str | None = None
    reduced_rate_quota_bbl: Decimal | None = None
    over_2_million_bbl: bool = False
    pays_by_eft: bool = False
    expected_tax: Decimal | None = None
    production_point: str | None = None
    producer: str | None = None  # the producer class of the area file this brewery is in
    annual_production: Decimal | None = None  # last year's, in the unit the area file names


@dataclass(frozen=True)
class Settings:
    """The settings of one set of books."""

    name: str
    currency: str
    first_month: str
    sites: tuple[Site, ...]
    materials_method: str = "fifo"
    goods_method: str = "fifo"
    own_houses: str = OWN_HOUSES[0]
    number_style: str = "1,234.56"
    allowed_loss_pct: Mapping[str, Decimal] = field(default_factory=dict)
    reading_tolerance_bbl: Mapping[str, Decimal] = field(default_factory=dict)
    pools: tuple[Pool, ...] = ()
    filers: tuple[Filer, ...] = ()
    accounts: Mapping[str, str] = field(default_factory=dict)  # role, or role and area, to the ledger's number
    pour_loss_pct: Decimal = Decimal(DEFAULT_POUR_LOSS)
    glass: str = GLASSES[0]
    keg_overdue_days: int = DEFAULT_OVERDUE_DAYS
    keg_deposit: Decimal | None = None  # of a keg of any size; None: the books state none
    keg_deposits: Mapping[str, Decimal] = field(default_factory=dict)  # by package

    @property
    def first_day(self) -> date:
        return date(int(self.first_month[:4]), int(self.first_month[5:]), 1)


class _Table:
    """One table of the file: hands out keys with a check, and complains about what nobody asked for."""

    def __init__(self, values: Any, where: str) -> None:
        if not isinstance(values, dict):
            raise SettingsError(f"brewery.toml: {where} must be a table")
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
        return value.strip()

    def needed(self, key: str, choices: Sequence[str] = ()) -> str:
        value = self.text(key, choices)
        if value is None:
            raise self.fail(key, f"one of {', '.join(choices)}" if choices else "text in quotes")
        return value

    def month(self, key: str, default: str | None = None) -> str:
        value = self.values.get(key, default)
        if not isinstance(value, str) or not _MONTH.fullmatch(value):
            raise self.fail(key, 'a month such as "2026-03"')
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
        if not number.is_finite() or number < Decimal(low) or number >= Decimal(10) ** 12:
            raise self.fail(key, f"a number from {low} up")
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
        filers=tuple(_filer(_Table(row, "[[filers]]"), sites) for row in _rows(values, "filers")),
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
    if isinstance(days, bool) or not isinstance(days, int) or days < 0:
        raise table.fail("overdue_days", "a whole number of days")
    sizes = _Table(table.values.get("deposits", {}), "[kegs] deposits")
    deposits = {size.casefold(): sizes.number(size) or Decimal(0) for size in sizes.values}
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
        isinstance(figure, bool) or not isinstance(figure, (int, Decimal)) or figure <= 0 for figure in figures
    ):
        raise table.fail(key, f"{what}: one figure above 0, or twelve")
    return tuple(Decimal(figure).quantize(Decimal("0.000001")) for figure in figures)


def _filer(table: _Table, sites: Sequence[Site]) -> Filer:
    table.only(
        ("area", "site", "return_period", "reduced_rate_quota_bbl", "over_2_million_bbl", "pays_by_eft",
         "expected_tax", "production_point", "producer", "annual_production")
    )  # fmt: skip
    area = table.needed("area").upper()
    table.where = f"[[filers]] {area}"
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
    )


def register(con: duckdb.DuckDBPyConnection, settings: Settings) -> None:
    """Register the settings as the `given_*` frames that sql/10_reference reads."""
    import polars as pl

    money = pl.Decimal(18, 6)

    def frame(name: str, rows: list[dict[str, Any]], schema: dict[str, Any]) -> None:
        con.register(f"given_{name}", pl.DataFrame(rows, schema=schema).to_arrow())

    text, whole, flag = pl.String, pl.Int64, pl.Boolean
    frame(
        "settings",
        [{"name": settings.name, "currency": settings.currency, "first_month": settings.first_month,
          "first_day": settings.first_day, "materials_method": settings.materials_method,
          "goods_method": settings.goods_method, "own_houses": settings.own_houses}],
        {"name": text, "currency": text, "first_month": text, "first_day": pl.Date, "materials_method": text,
         "goods_method": text, "own_houses": text},
    )  # fmt: skip
    frame(
        "chart",
        [{"role": role, "account": settings.accounts.get(role, number), "name": name, "by_area": role in BY_AREA,
          "rolled": role in ROLLED}
         for role, (number, name) in CHART.items()],
        {"role": text, "account": text, "name": text, "by_area": flag, "rolled": flag},
    )  # fmt: skip
    frame(
        "chart_areas",
        [{"role": key.partition(" ")[0], "area": key.partition(" ")[2].upper(), "account": number}
         for key, number in settings.accounts.items() if " " in key],
        dict.fromkeys(("role", "area", "account"), text),
    )  # fmt: skip
    kinds = {"pour_loss_pct": money, "glass": text, "keg_overdue_days": whole, "keg_deposit": money}
    frame("margin_settings", [{name: getattr(settings, name) for name in kinds}], kinds)
    deposits = [{"package": size, "deposit": amount} for size, amount in settings.keg_deposits.items()]
    frame("keg_deposits", deposits, {"package": text, "deposit": money})
    frame("sites", [vars(site) for site in settings.sites], {"site": text, "area": text})
    frame(
        "allowed_loss",
        [{"stage": stage, "allowed_pct": figure} for stage, figure in settings.allowed_loss_pct.items()],
        {"stage": text, "allowed_pct": money},
    )
    frame(
        "reading_tolerance",
        [{"stage": stage, "tolerance_bbl": figure} for stage, figure in settings.reading_tolerance_bbl.items()],
        {"stage": text, "tolerance_bbl": money},
    )
    pool_columns = ("pool", "site", "from_month", "stage", "driver", "element", "behaviour", "applies_to",
                    "applies_value", "standard_rate", "standard_driver_per_bbl")  # fmt: skip
    frame(
        "pools",
        [{name: getattr(pool, name) for name in pool_columns} | {"to_month": _last_month(pool, settings.pools)}
         for pool in settings.pools],
        dict.fromkeys((*pool_columns, "to_month"), text) | {"standard_rate": money, "standard_driver_per_bbl": money},
    )  # fmt: skip
    frame(
        "pool_normals",
        [{"pool": pool.pool, "site": pool.site, "from_month": pool.from_month, "calendar_month": month,
          "normal": normal, "budget": budget}
         for pool in settings.pools
         for month, (normal, budget) in enumerate(zip(pool.normals, pool.budgets or (None,) * 12, strict=False), start=1)],
        {"pool": text, "site": text, "from_month": text, "calendar_month": whole, "normal": money, "budget": money},
    )  # fmt: skip
    frame(
        "filers",
        [vars(filer) for filer in settings.filers],
        {"area": text, "site": text, "return_period": text, "reduced_rate_quota_bbl": money,
         "over_2_million_bbl": flag, "pays_by_eft": flag, "expected_tax": money, "production_point": text,
         "producer": text, "annual_production": money},
    )  # fmt: skip


def _last_month(pool: Pool, pools: Sequence[Pool]) -> str:
    """The month before the same pool's next block begins."""
    later = [
        other.from_month
        for other in pools
        if other.pool.casefold() == pool.pool.casefold() and other.site == pool.site and other.from_month > pool.from_month
    ]
    if not later:
        return LAST_MONTH
    year, month = int(min(later)[:4]), int(min(later)[5:])
    return f"{year - 1:04d}-12" if month == 1 else f"{year:04d}-{month - 1:02d}"
