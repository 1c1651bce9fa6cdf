"""What brewery.toml can say: the settings of one set of books, and the words that each may be."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

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
# What a text cannot hold, for it would stand in a workbook: no such character may be in XML 1.0 (section 2.2).
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


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
    remission: bool = False  # the authority gives this brewery the area's remission of duty
    remission_cap: Decimal | None = None  # the part of a year's cap that a group gave to this brewery


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
