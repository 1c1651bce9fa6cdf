"""What an area file holds, as typed values: rates with their bands, equivalents, rounding, return periods."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from brewcost.due_dates import DueRule

DEFERENCE = (
    "Figures for preparing a return, not tax advice; confirm rates, forms and due dates with that authority and a "
    "licensed adviser before filing."
)
# Millilitres of one unit of volume, exact: 1 gal = 231 cubic inches = 3785.411784 mL (NIST HB 44, appendix C).
MILLILITRES: Mapping[str, Decimal] = {
    "mL": Decimal(1),
    "L": Decimal(1000),
    "hL": Decimal(100000),
    "floz": Decimal("29.5735295625"),
    "pint": Decimal("473.176473"),
    "gal": Decimal("3785.411784"),
    "bbl": Decimal("117347.765304"),
    "imp_gal": Decimal("4546.09"),
}
# What a rate is counted on: a volume; a volume times its strength; or containers.
BASES = ("bbl", "gal", "floz", "hL", "L", "hL_plato", "hL_abv", "L_alcohol", "container", "container_step")
LEVELS = ("country", "state", "county", "city")
PAYERS = ("brewer", "wholesaler")
MODES = ("half_up", "down", "up")
SCOPES = ("day", "return")
COMPOUNDED = ("daily", "never")
ROUNDINGS = ("quantity", "money", "abv", "plato", "unit_rate", "relief_rate", "discount")
FORMS = ("keg", "bottled", "bulk")
BREWERS = ("us", "group", "other")
PURPOSES = (
    "sale", "own_location", "tavern", "given_away", "serving_tank", "in_bond", "export", "vessel_supply", "research",
    "laboratory", "unfit", "spirits_plant", "destroyed", "casualty", "premises", "packaging",
)  # fmt: skip
TAXED = ("sale", "own_location", "tavern", "given_away", "serving_tank")
ACCOUNT_KINDS = ("own_location", "wholesaler", "retailer", "public", "own_brewery", "abroad", "other")
# A limit by weight becomes one by volume at 0.8 g of alcohol per mL of alcohol in beer: common practice, no source.
ABV_PER_ABW = Decimal("1.25")

# A range as (lower, lower belongs, upper, upper belongs); an end that is None is open.
Limits = tuple[Decimal | None, bool, Decimal | None, bool]


class AreaError(ValueError):
    """An area file says something that cannot be used; the message names the file and the key."""


@dataclass(frozen=True)
class Rounding:
    """How one kind of figure is rounded, and by which rule."""

    places: int
    mode: str
    scope: str
    source: str


@dataclass(frozen=True)
class Band:
    """One step of a rate: up to so much (in the unit the bands are counted in), or without end."""

    name: str
    up_to: Decimal | None
    quota: bool
    rate: Decimal


@dataclass(frozen=True)
class Rate:
    """A dated rate: what it is counted on, which beer it falls on, its bands and its source.

    Limits of strength are in % of volume, of containers in mL.
    """

    tax: str
    from_date: date
    start_known: bool
    to_date: date | None
    basis: str
    per: Decimal
    step_ml: Decimal | None
    alcohol_above: Decimal
    bands_unit: str | None
    counter: str
    producer: str | None
    conditions: Mapping[str, tuple[str, ...]]
    abv: Limits
    size: Limits
    bands: tuple[Band, ...]
    source: str
    checked: date | None
    unverified: bool
    note: str | None


@dataclass(frozen=True)
class Equivalent:
    """Barrels of one package by the authority's table."""

    form: str | None
    container_ml: Decimal
    containers: int
    barrels: Decimal


@dataclass(frozen=True)
class PeriodRule:
    """One length of return period, when return and payment are due (None: not in the sources), and its limit of tax."""

    length: str
    due: DueRule | None
    pay: DueRule | None
    at_most_tax: Decimal | None
    source: str


@dataclass(frozen=True)
class Relief:
    """A step of a small producer's relief, by last year's production (in the unit the authority counts it).

    `percent`: of the rate, payable.  `discount`: (base + marginal * (production - over)) / production off the rate.
    """

    kind: str
    from_date: date
    to_date: date | None
    over: Decimal
    up_to: Decimal
    base: Decimal
    marginal: Decimal
    percent: Decimal
    producer: str | None
    conditions: Mapping[str, tuple[str, ...]]
    abv: Limits
    size: Limits
    source: str
    unverified: bool


@dataclass(frozen=True)
class Remission:
    """The duty of a year that is not asked of a manufacturer who is given the remission: all of it, up to `cap`."""

    name: str
    from_date: date
    to_date: date | None
    cap: Decimal
    source: str
    checked: date | None
    unverified: bool


@dataclass(frozen=True)
class Interest:
    """What an authority charges on tax paid late: percent a year, added to the tax every day or not at all."""

    from_date: date
    to_date: date | None
    rate_pct: Decimal
    compounded: str
    source: str
    unverified: bool


@dataclass(frozen=True)
class Credit:
    """What an authority gives back outside the return, or on another tax: named in the workbook, never computed."""

    name: str
    text: str
    source: str
    unverified: bool


@dataclass(frozen=True)
class Area:
    """One tax area, whole. `file` is where it was read; `own` that it is the brewery's."""

    area: str
    file: str
    own: bool
    texts: Mapping[str, str | None]
    currency: str
    tax_classes: tuple[str, ...]
    taxed: tuple[str, ...]
    notes: tuple[str, ...]
    rounding: Mapping[str, Rounding]
    periods: tuple[PeriodRule, ...]
    counter_month: int
    beer_from_abv: Decimal | None
    relief_until: Decimal | None
    claim_months: Decimal | None
    transit_loss_pct: Decimal | None
    claims_source: str | None
    rates: tuple[Rate, ...]
    reliefs: tuple[Relief, ...]
    remissions: tuple[Remission, ...]
    equivalents: tuple[Equivalent, ...]
    equivalents_source: str | None
    not_listed: str | None
    keg_overfill_pct: Decimal | None
    discount: tuple[Decimal, str, str] | None
    credits: tuple[Credit, ...]
    interest: tuple[Interest, ...]


def falls_on(rate: Rate | Relief) -> list[str]:
    """The conditions of a rate or relief in words, one text each; none where it falls on everything."""
    said = [f"{key.replace('_', ' ')}: {', '.join(values)}" for key, values in rate.conditions.items() if values]
    for name, unit, scale, limits in (
        ("strength", "% abv", 1, rate.abv),
        ("container", "L", MILLILITRES["L"], rate.size),
    ):
        low, low_in, high, high_in = limits
        if low is not None:
            said.append(f"{name} {'from' if low_in else 'over'} {plain(low / scale)} {unit}")
        if high is not None:
            said.append(f"{name} {'up to' if high_in else 'under'} {plain(high / scale)} {unit}")
    return said


def plain(number: Decimal) -> str:
    """A figure with at most four decimals, none of them an idle nought."""
    return f"{round(number, 4).normalize():f}"
