"""The area files as frames for SQL: areas, rates (a row each band), equivalents, reliefs, filers' classes, return periods."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from brewcost.area_model import MILLILITRES, ROUNDINGS, Area, AreaError, Credit, Limits, Rate, falls_on
from brewcost.due_dates import DueRule, periods

if TYPE_CHECKING:
    import duckdb
    import polars as pl

    from brewcost.settings_model import Settings

# Return periods are laid out this far: a year before the books begin, and so many after.
YEARS_AHEAD = 25
_TEXTS = (
    "name", "level", "authority", "licence_authority", "edition", "payer", "payer_source", "returns", "event",
    "default_period", "default_producer", "over_2_million_producer", "production_unit", "incomplete",
)  # fmt: skip
# Litres in one unit of each basis; a strength is multiplied in before. Containers are counted one by one.
_UNITS = {"hL_plato": "hL", "hL_abv": "hL", "L_alcohol": "L"}
_NAMES = {"hL_plato": "hL", "hL_abv": "hL % abv", "L_alcohol": "L alcohol", "container": "container"}


def register_frames(con: duckdb.DuckDBPyConnection, areas: Mapping[str, Area], settings: Settings) -> None:
    """Register given_areas, given_area_rates, given_area_equivalents, given_area_reliefs,
    given_area_remissions, given_interest_rates, given_return_periods.

    Raises:
        AreaError: a filer of brewery.toml names a return period, or takes a remission, that its area does not know, or is
            the second of an area in which one return covers every site.
    """
    wide: dict[str, str] = {}
    for filer in settings.filers:
        area = areas.get(filer.area)
        lengths = [rule.length for rule in area.periods] if area else []
        if area and filer.return_period and filer.return_period not in lengths:
            raise AreaError(
                f"brewery.toml: [[filers]] {filer.area} return_period is {filer.return_period!r}; "
                f"{area.file} knows {', '.join(lengths)}"
            )
        if area and filer.remission and not area.remissions:
            raise AreaError(f"brewery.toml: [[filers]] {filer.area} remission is true; {area.file} knows no remission")
        if area and area.texts["returns"] == "brewer":
            of = f"the site {filer.site}" if filer.site else "every site"
            if filer.area in wide:
                raise AreaError(
                    f"brewery.toml: [[filers]] {filer.area} has an entry for {wide[filer.area]} and one for {of}; "
                    f"expected one: by {area.file} one return covers all sites"
                )
            wide[filer.area] = of
    for name, frame in frames(areas, int(settings.first_month[:4])).items():
        con.register(name, frame)


def frames(areas: Mapping[str, Area], first_year: int) -> dict[str, pl.DataFrame]:
    """The frames by name; years of return periods run from the one before `first_year`."""
    import polars as pl

    number, list_of_text = pl.Decimal(18, 6), pl.List(pl.String)
    limits = {
        f"{what}_{end}": kind
        for what in ("abv", "size")
        for end, kind in (("low", pl.Decimal(18, 4)), ("low_in", pl.Boolean), ("high", pl.Decimal(18, 4)),
                          ("high_in", pl.Boolean))
    }  # fmt: skip
    conditions = dict.fromkeys(("forms", "purposes", "account_kinds", "brewed_by"), list_of_text)
    rounding = {f"{kind}_{part}": dtype for kind in ROUNDINGS
                for part, dtype in (("places", pl.Int64), ("mode", pl.String))}  # fmt: skip
    schemas: dict[str, dict[str, Any]] = {
        "given_areas": {
            "area": pl.String, **dict.fromkeys(_TEXTS, pl.String), "currency": pl.String, "tax_classes": list_of_text,
            "taxed": list_of_text, **rounding, "rounds_each_day": pl.Boolean, "counter_month": pl.Int64,
            "beer_from_abv": number, "relief_until": number, "claim_months": number, "transit_loss_pct": number,
            "claims_source": pl.String,
            "notes": pl.String, "equivalents_source": pl.String, "not_listed": pl.String, "keg_overfill_pct": number,
            "discount_pct": number, "discount_when": pl.String, "discount_source": pl.String,
            "credits": pl.String, "file": pl.String, "own": pl.Boolean,
        },
        "given_area_rates": {
            "rate_id": pl.String, "area": pl.String, "tax": pl.String, "class": pl.Int64, "band_no": pl.Int64,
            "band": pl.String, "from_date": pl.Date, "start_known": pl.Boolean, "to_date": pl.Date, "basis": pl.String,
            "unit": pl.String, "litres_per_unit": pl.Decimal(18, 9), "step_ml": pl.Decimal(18, 10),
            "alcohol_above": number, "counter": pl.String, "over": pl.Decimal(28, 9), "up_to": pl.Decimal(28, 9),
            "over_quota": pl.Boolean, "up_to_quota": pl.Boolean, "bands_litres": pl.Decimal(18, 9), "rate": number,
            "producer": pl.String, **conditions, **limits, "falls_on": pl.String, "source": pl.String, "checked": pl.Date,
            "unverified": pl.Boolean, "note": pl.String,
        },
        "given_area_equivalents": {
            "area": pl.String, "form": pl.String, "container_ml": pl.Decimal(18, 4), "containers": pl.Int64,
            "barrels": pl.Decimal(18, 5), "source": pl.String,
        },
        "given_area_reliefs": {
            "relief_id": pl.String, "area": pl.String, "kind": pl.String, "from_date": pl.Date, "to_date": pl.Date,
            "over": number, "up_to": number, "base": number, "marginal": number, "percent": number,
            "producer": pl.String, **conditions, **limits, "falls_on": pl.String,
            "source": pl.String, "unverified": pl.Boolean,
        },
        "given_area_remissions": {
            "area": pl.String, "name": pl.String, "from_date": pl.Date, "to_date": pl.Date, "cap": number,
            "source": pl.String, "checked": pl.Date, "unverified": pl.Boolean,
        },
        "given_interest_rates": {
            "area": pl.String, "from_date": pl.Date, "to_date": pl.Date, "rate_pct": number, "compounded": pl.String,
            "source": pl.String, "unverified": pl.Boolean,
        },
    }  # fmt: skip
    rows: dict[str, list[dict[str, Any]]] = {name: [] for name in schemas}
    for area in areas.values():
        rows["given_areas"].append(_area(area))
        rows["given_area_rates"] += _rates(area)
        rows["given_area_equivalents"] += [
            {"area": area.area, "source": area.equivalents_source, **vars(size)} for size in area.equivalents
        ]
        rows["given_area_reliefs"] += [
            {"relief_id": f"{area.area}/relief {n}", "area": area.area,
             **{k: v for k, v in vars(r).items() if k not in ("conditions", "abv", "size")},
             **{k: list(v) or None for k, v in r.conditions.items()}, **_limits("abv", r.abv),
             **_limits("size", r.size), "falls_on": "; ".join(falls_on(r))}
            for n, r in enumerate(area.reliefs, 1)
        ]  # fmt: skip
        rows["given_area_remissions"] += [{"area": area.area, **vars(one)} for one in area.remissions]
        rows["given_interest_rates"] += [{"area": area.area, **vars(one)} for one in area.interest]
    made = {name: pl.DataFrame(rows[name], schema=schema, orient="row") for name, schema in schemas.items()}
    return made | {"given_return_periods": _return_periods(areas, first_year)}


def _return_periods(areas: Mapping[str, Area], first_year: int) -> pl.DataFrame:
    """The periods of every area; most areas have rules that others have too, which are laid out once."""
    import polars as pl

    calendars: dict[tuple[str, DueRule | None, DueRule | None], int] = {}
    rules = [
        (area.area, calendars.setdefault((rule.length, rule.due, rule.pay), len(calendars)), rule.at_most_tax, rule.source)
        for area in areas.values() for rule in area.periods
    ]  # fmt: skip
    days = [
        (number, *vars(period).values())
        for rule, number in calendars.items() for period in periods(*rule, first_year - 1, first_year + YEARS_AHEAD)
    ]  # fmt: skip
    of_rules: dict[str, Any] = {"area": pl.String, "calendar": pl.Int64, "at_most_tax": pl.Decimal(18, 6), "source": pl.String}
    of_days: dict[str, Any] = {"calendar": pl.Int64, "length": pl.String, "period": pl.String,
               **dict.fromkeys(("from_date", "to_date", "due_date", "pay_date"), pl.Date)}  # fmt: skip
    every = pl.DataFrame(rules, schema=of_rules, orient="row").join(
        pl.DataFrame(days, schema=of_days, orient="row"), on="calendar", maintain_order="left_right"
    )
    return every.select("area", *list(of_days)[1:], "at_most_tax", "source")


def _area(area: Area) -> dict[str, Any]:
    row: dict[str, Any] = {"area": area.area, **{key: area.texts[key] for key in _TEXTS}}
    for kind in ROUNDINGS:
        rounding = area.rounding.get(kind)
        row[f"{kind}_places"] = rounding.places if rounding else None
        row[f"{kind}_mode"] = rounding.mode if rounding else None
    quantity = area.rounding.get("quantity")
    pct, when, source = area.discount or (None, None, None)
    return row | {
        "currency": area.currency,
        "tax_classes": list(area.tax_classes),
        "taxed": list(area.taxed),
        "rounds_each_day": quantity is not None and quantity.scope == "day",
        "counter_month": area.counter_month,
        "beer_from_abv": area.beer_from_abv,
        "relief_until": area.relief_until,
        "claim_months": area.claim_months,
        "transit_loss_pct": area.transit_loss_pct,
        "claims_source": area.claims_source,
        "notes": "\n".join(area.notes) or None,
        "equivalents_source": area.equivalents_source,
        "not_listed": area.not_listed,
        "keg_overfill_pct": area.keg_overfill_pct,
        "discount_pct": pct,
        "discount_when": when,
        "discount_source": source,
        "credits": "\n".join(map(_credit, area.credits)) or None,
        "file": area.file,
        "own": area.own,
    }


def _credit(credit: Credit) -> str:
    return f"{credit.name}: {credit.text} ({credit.source}{', unverified' if credit.unverified else ''})"


def _limits(name: str, limits: Limits) -> dict[str, Any]:
    low, low_in, high, high_in = limits
    places = Decimal("0.0001")
    return {
        f"{name}_low": None if low is None else low.quantize(places),
        f"{name}_low_in": low_in,
        f"{name}_high": None if high is None else high.quantize(places),
        f"{name}_high_in": high_in,
    }


def litres_per_unit(area: Area, rate: Rate) -> Decimal:
    """How much of what is summed makes one unit of the rate's basis.

    Litres (times strength) for most; 1 where containers, steps, or barrels by the authority's table are summed.
    """
    if rate.basis in ("container", "container_step") or (rate.basis == "bbl" and area.equivalents):
        return Decimal(1)
    return MILLILITRES[_UNITS.get(rate.basis, rate.basis)] / 1000 * rate.per


def _rates(area: Area) -> list[dict[str, Any]]:
    rows = []
    for number, rate in enumerate(area.rates, 1):
        own_unit = litres_per_unit(area, rate)
        over: Decimal | None = Decimal(0)
        over_quota = False
        for band_no, band in enumerate(rate.bands, 1):
            step = _steps(rate.step_ml) if rate.step_ml else ""
            rows.append(
                {
                    "rate_id": f"{area.area}/{number}/{band_no}", "area": area.area, "tax": rate.tax, "class": number,
                    "band_no": band_no, "band": band.name, "from_date": rate.from_date,
                    "start_known": rate.start_known, "to_date": rate.to_date, "basis": rate.basis,
                    "unit": ("" if rate.per == 1 else f"{rate.per} ") + _NAMES.get(rate.basis, step or rate.basis),
                    "litres_per_unit": own_unit,
                    "step_ml": rate.step_ml, "alcohol_above": rate.alcohol_above,
                    # Rates without bands do not advance a counter, unless they share one by name.
                    "counter": rate.counter if len(rate.bands) > 1 or rate.counter != "all" else None,
                    "over": over, "up_to": band.up_to, "over_quota": over_quota, "up_to_quota": band.quota,
                    "bands_litres": MILLILITRES[rate.bands_unit] / 1000 if rate.bands_unit else own_unit,
                    "rate": band.rate, "producer": rate.producer,
                    **{key: list(values) or None for key, values in rate.conditions.items()},
                    **_limits("abv", rate.abv), **_limits("size", rate.size), "falls_on": "; ".join(falls_on(rate)),
                    "source": rate.source, "checked": rate.checked, "unverified": rate.unverified, "note": rate.note,
                }
            )  # fmt: skip
            over, over_quota = band.up_to, band.quota
    return rows


def _steps(step_ml: Decimal) -> str:
    for unit in ("gal", "pint", "floz", "L"):
        count = step_ml / MILLILITRES[unit]
        if count == count.to_integral_value():
            return f"{unit} begun" if count == 1 else f"{count.normalize():f} {unit} begun"
    return f"{step_ml.normalize():f} mL begun"
