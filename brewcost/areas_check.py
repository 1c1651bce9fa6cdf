"""Do the rates of an area file cover what they must, once each? Tried at every limit the file names, and between."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations, pairwise, product
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


def check_reliefs(area: Area) -> None:
    """Refuse two reliefs that could fall on the same beer of the same brewery.

    Raises:
        AreaError: naming the file and both reliefs.
    """
    for (number, one), (later, other) in combinations(enumerate(area.reliefs, 1), 2):
        lists = ((one.conditions[name], other.conditions[name]) for name in one.conditions)
        if (
            one.from_date <= (other.to_date or date.max)
            and other.from_date <= (one.to_date or date.max)
            and (one.producer is None or other.producer is None or one.producer == other.producer)
            and all(not left or not right or set(left) & set(right) for left, right in lists)
            and meet((one.over, False, one.up_to, True), (other.over, False, other.up_to, True))
            and meet(one.abv, other.abv)
            and meet(one.size, other.size)
        ):
            raise model.AreaError(
                f"{area.file}: reliefs[{later}] overlaps reliefs[{number}]: the same production, beer and day; expected one"
            )


def check_remissions(area: Area) -> None:
    """Refuse remissions that overlap, leave a year between them open, or begin or end inside the year the cap is for.

    The cap counts over every site, so the area must take one return for all of them (`returns = "brewer"`).

    Raises:
        AreaError: naming the file and the remission.
    """

    def wrong(number: int, message: str) -> model.AreaError:
        return model.AreaError(f"{area.file}: remissions[{number}]{message}")

    if area.remissions and area.texts["returns"] != "brewer":
        raise wrong(1, ' needs returns = "brewer": its cap counts over all sites, in one return')
    for number, one in enumerate(area.remissions, 1):
        next_day = one.to_date and one.to_date + timedelta(days=1)
        for key, day in (("from", one.from_date), ("to", next_day)):
            if day and (day.day, day.month) != (1, area.counter_month):
                said = one.from_date if key == "from" else one.to_date
                raise wrong(number, f".{key} is {said}; expected the edge of a year that begins in month {area.counter_month}")
        if one.to_date and one.to_date < one.from_date:
            raise wrong(number, f".to is {one.to_date}, before {one.from_date}")
    for number, (earlier, later) in enumerate(pairwise(area.remissions), 2):
        if earlier.to_date is None or earlier.to_date >= later.from_date:
            raise wrong(number, f".from {later.from_date} overlaps the one before; each needs a to, in order of date")
        if earlier.to_date + timedelta(days=1) != later.from_date:
            raise wrong(number, f".from {later.from_date} leaves a gap after {earlier.to_date}; cap = 0 says there is none")


def inside(limits: model.Limits, value: Decimal) -> bool:
    """Whether a value lies within (lower, lower belongs, upper, upper belongs)."""
    low, low_in, high, high_in = limits
    return (low is None or value > low or (low_in and value == low)) and (
        high is None or value < high or (high_in and value == high)
    )


def meet(one: model.Limits, other: model.Limits) -> bool:
    """Whether some value lies within both."""
    lows = [(edge, not belongs) for edge, belongs, _, _ in (one, other) if edge is not None]
    highs = [(edge, belongs) for _, _, edge, belongs in (one, other) if edge is not None]
    if not lows or not highs:
        return True
    (low, low_out), (high, high_in) = max(lows), min(highs)
    return low < high or (low == high and high_in and not low_out)


def _days(rates: list[Rate], first: date) -> list[date]:
    days = {rate.from_date for rate in rates}
    days |= {rate.to_date + timedelta(days=1) for rate in rates if rate.to_date}
    return sorted(day for day in days if day >= first)


def _points(limits: list[model.Limits], most: Decimal) -> list[Decimal]:
    edges = sorted({edge for low, _, high, _ in limits for edge in (low, high) if edge is not None})
    return sorted(set(_around(edges, most))) or [Decimal(5)]


def _around(edges: list[Decimal], most: Decimal) -> Iterator[Decimal]:
    for edge in edges:
        yield from (point for point in (edge - _NUDGE, edge, edge + _NUDGE) if Decimal(0) < point <= most)
