"""Do the rates of an area file cover what they must, once each? Tried at every limit the file names, and between."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import product
from typing import TYPE_CHECKING

from brewcost import area_model as model

if TYPE_CHECKING:
    from brewcost.area_model import Area, Rate

_NUDGE = Decimal("0.001")
_LISTS = {
    "forms": model.FORMS,
    "purposes": model.TAXED,
    "account_kinds": model.ACCOUNT_KINDS,
    "brewed_by": model.BREWERS,
}


def check_rates(area: Area) -> None:
    """Refuse an area whose rates of one tax overlap, or leave a gap without saying so (`incomplete`).

    Raises:
        AreaError: naming the file, the tax and the beer, container or date concerned.
    """
    for tax in sorted({rate.tax for rate in area.rates}):
        rates = [rate for rate in area.rates if rate.tax == tax]
        first = min(rate.from_date for rate in rates)
        # Only what some rate asks about needs to be tried; everything else matches alike.
        lists = {name: values for name, values in _LISTS.items() if any(rate.conditions[name] for rate in rates)}
        producers = sorted({rate.producer for rate in rates if rate.producer}) or [""]
        for day, producer, abv, size in product(
            _days(rates, first),
            producers,
            _points([rate.abv for rate in rates], Decimal(70)),
            _points([rate.size for rate in rates], Decimal(1000000)),
        ):
            near = [
                rate
                for rate in rates
                if rate.from_date <= day
                and (rate.to_date is None or day <= rate.to_date)
                and rate.producer in (None, producer)
                and inside(rate.abv, abv)
                and inside(rate.size, size)
            ]
            for values in product(*lists.values()):
                chosen = dict(zip(lists, values, strict=True))
                hits = [r for r in near if all(not r.conditions[n] or v in r.conditions[n] for n, v in chosen.items())]
                if len(hits) == 1 or (not hits and area.texts["incomplete"]):
                    continue
                beer = ", ".join([f"{abv} % abv", f"containers of {size} mL", *([producer] if producer else []), *values])
                what = "no rate covers" if not hits else "two rates overlap on"
                raise model.AreaError(f"{area.file}: rates: {tax} on {day}: {what} {beer}")
    if area.texts["default_producer"] is None and any(rate.producer for rate in area.rates):
        raise model.AreaError(f"{area.file}: default_producer is missing; rates ask for a producer")


def inside(limits: tuple[Decimal | None, bool, Decimal | None, bool], value: Decimal) -> bool:
    """Whether a value lies within (lower, lower belongs, upper, upper belongs)."""
    low, low_in, high, high_in = limits
    return (low is None or value > low or (low_in and value == low)) and (
        high is None or value < high or (high_in and value == high)
    )


def _days(rates: list[Rate], first: date) -> list[date]:
    days = {rate.from_date for rate in rates}
    days |= {rate.to_date + timedelta(days=1) for rate in rates if rate.to_date}
    return sorted(day for day in days if day >= first)


def _points(limits: list[tuple[Decimal | None, bool, Decimal | None, bool]], most: Decimal) -> list[Decimal]:
    edges = sorted({edge for low, _, high, _ in limits for edge in (low, high) if edge is not None})
    return sorted(set(_around(edges, most))) or [Decimal(5)]


def _around(edges: list[Decimal], most: Decimal) -> Iterator[Decimal]:
    for edge in edges:
        yield from (point for point in (edge - _NUDGE, edge, edge + _NUDGE) if Decimal(0) < point <= most)
