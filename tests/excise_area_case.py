"""One removal in one area, and its duty: for the table-driven tests of area files."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
from excise_case import books, duty, package, ship

CURRENCY = {"US": "USD", "GB": "GBP", "CA": "CAD", "DE": "EUR", "IE": "EUR", "AU": "AUD", "NZ": "NZD"}


def case(
    area: str,
    units: int,
    size: str,
    unit: str,
    *,
    form: str = "keg",
    containers: int = 1,
    day: date = date(2026, 12, 10),
    abv: str = "5",
    plato: str = "12",
    filer: Mapping[str, Any] | None = None,
    kind: str = "retailer",
    folder: Path | None = None,
    currency: str | None = None,
    **more: Any,
) -> duckdb.DuckDBPyConnection:
    """Ship (in Canada: fill) so many packages to an account in the area; the books in the area's currency."""
    country = area.split("-")[0]
    records: dict[str, Any] = {
        "beers": [{"beer": "Pale", "abv_pct": Decimal(abv), "original_plato": Decimal(plato)}],
        "packages": [package("p", form, size, unit, containers)],
        "accounts": [{"account": "house", "kind": kind, "area": area}],
        "shipments": [ship(day, "p", units, **more)],
        "packaging": [{"run": "R1", "date": day, "lot": "L1", "beer": "Pale", "package": "p", "filled": units}],
    }
    filers = [{"area": area, **filer}] if filer else []
    return books(records, sites={"main": country}, filers=filers, currency=currency or CURRENCY[country],
                 folder=folder)  # fmt: skip


def tax(area: str, *args: Any, **more: Any) -> Decimal:
    """The duty of the area itself, not of the country or state around it."""
    return duty(case(area, *args, **more), area)
