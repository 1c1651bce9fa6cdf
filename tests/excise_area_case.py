"""One removal in one area, and its duty: for the table-driven tests of area files."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
from excise_case import books, duty, package, ship

from brewcost import areas

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


# Files of a brewery's own, written into its folder.
OWN = """
area = "{area}"
name = "Own file"
level = "country"
authority = "an authority"
edition = "an edition"
currency = "USD"
basis = "{basis}"
payer = "brewer"
default_period = "monthly"
{top}
[rounding]
money = {{ places = 2, mode = "{mode}", source = "a source" }}
[[periods]]
length = "monthly"
due = {{ day = 15 }}
source = "a source"
[[rates]]
from = {start}
rate = {rate}
source = "a source"
checked = 2026-11-25
{more}
"""


def own(tmp_path: Path, area: str = "XX", basis: str = "gal", mode: str = "half_up", start: str = "2000-01-01",
        rate: str = "1", more: str = "", top: str = "") -> areas.Area:  # fmt: skip
    """Write an area file of one rate into a brewery's folder, `top` among its first keys and `more` after the rate; read it."""
    (tmp_path / "areas").mkdir(exist_ok=True)
    path = tmp_path / "areas" / f"{area}.toml"
    text = OWN.format(area=area, basis=basis, mode=mode, start=start, rate=rate, more=more, top=top)
    path.write_text(text, encoding="utf-8")
    return areas.load(tmp_path)[area]
