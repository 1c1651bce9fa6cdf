"""Small books for the excise tests: a few typed records straight into `record.*`, then the real SQL of 50_excise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import duckdb

from brewcost import areas, areas_frames, settings, settings_frames, steps

# The columns of the record tables that excise reads; a row gives those it needs, the rest are null or the default.
TABLES = {
    "beers": "beer text, style text default 'ale', tax_class text default 'beer', abv_pct decimal(18,6),"
    " original_plato decimal(18,6)",
    "packages": "package text, form text, containers bigint default 1, bbl_numerator decimal(28,6),"
    " bbl_denominator decimal(18,0), excise_bbl decimal(18,6)",
    "accounts": "account text, kind text, area text",
    "shipments": "document text, line bigint default 1, date date, site text default 'main', account text default 'house',"
    " beer text default 'Pale', package text, units bigint, purpose text default 'sale'",
    "returns": "document text, line bigint default 1, date date, site text default 'main',"
    " account text default 'house', beer text default 'Pale', package text, units bigint,"
    " outcome text default 'destroyed', original_document text, volume_returned_bbl decimal(18,6),"
    " removed_from_site text",
    "moves": "move text, date date, site text default 'main', from_lot text, to_lot text, beer text default 'Pale',"
    " volume_out_bbl decimal(18,6), reason text, account text",
    "packaging": "run text, line bigint default 1, date date, site text default 'main', lot text, beer text,"
    " package text, filled bigint, average_fill_bbl decimal(18,6)",
    "brews": "brew text, site text default 'main', lot text",
    "beer_in": "date date, site text default 'main', account text, beer text default 'Pale', lot text,"
    " volume_bbl decimal(18,6), package text, units bigint, document text, from_document text,"
    " quantity_shipped decimal(18,6), brewed_by text",
    "counts": "date date, site text default 'main', beer text default 'Pale', package text, units bigint",
    "repacks": "document text, date date, site text default 'main', from_beer text default 'Pale', from_package text,"
    " from_units bigint, to_beer text default 'Pale', to_package text, to_units bigint",
    "opening_goods": "site text default 'main', beer text, package text, units bigint",
    "filings": "area text, site text, period text, filed_on date, quantity decimal(18,6), amount decimal(18,6),"
    " serial text",
    "payments": "date date, area text, site text, period text, amount decimal(18,6), interest decimal(18,6),"
    " penalty decimal(18,6)",
    "opening_duty": "area text, site text, period text, removed_bbl decimal(18,6), tax_accrued decimal(18,6),"
    " tax_paid decimal(18,6), tax_remitted decimal(18,6), tax_last_year decimal(18,6)",
}
_UNITS = {  # barrels of one unit as numerator / denominator, exact
    "gal": (1, 31), "floz": (1, 3968), "bbl": (1, 1), "mL": (1000000, 117347765304), "L": (1000000000, 117347765304),
}  # fmt: skip
KEGS = {"half_bbl": (1, 2), "third_bbl": (1, 3), "quarter_bbl": (1, 4), "sixth_bbl": (1, 6), "eighth_bbl": (1, 8)}


def package(name: str, form: str, size: Decimal | int | str, unit: str, containers: int = 1, **more: Any) -> dict[str, Any]:
    """A package record; size may be a fraction such as "31/3"."""
    top, _, bottom = str(size).partition("/")
    numerator, denominator = _UNITS[unit]
    return {
        "package": name, "form": form, "containers": containers,
        "bbl_numerator": Decimal(top) * containers * numerator, "bbl_denominator": denominator * int(bottom or 1), **more,
    }  # fmt: skip


PACKAGES: Sequence[Mapping[str, Any]] = (
    *(
        {"package": name, "form": "keg", "bbl_numerator": top, "bbl_denominator": bottom}
        for name, (top, bottom) in KEGS.items()
    ),
    package("barrel", "keg", 1, "bbl"),
    package("keg_30L", "keg", 30, "L"),
    package("keg_20L", "keg", 20, "L"),
    package("case_24x12", "bottled", 12, "floz", 24),
)


# What cost.goods_events makes of these records, without the costs: movements in packages in the order of a day.
_GOODS_EVENTS = """
create table cost.goods_events as
with moved as (
    select site, beer, package, date '1900-01-01' as date, 'opening' as kind, 0 as place, '' as document, row as line,
        units as qty_in, 0 as qty_out, null::bigint as counted_qty, file, sheet, row
    from record.opening_goods
    union all by name
    select site, coalesce(beer, 'Pale') as beer, package, date, 'packaged' as kind, 1 as place, run as document, line,
        filled as qty_in, 0 as qty_out, file, sheet, row from record.packaging
    union all by name
    select site, beer, package, date, 'received' as kind, 2 as place, coalesce(document, file) as document, row as line,
        units as qty_in, 0 as qty_out, file, sheet, row from record.beer_in where package is not null
    union all by name
    select site, beer, package, date, 'restocked' as kind, 3 as place, document, line, units as qty_in, 0 as qty_out, file,
        sheet, row from record.returns where outcome = 'restocked'
    union all by name
    select site, from_beer as beer, from_package as package, date, 'repacked out' as kind, 4 as place, document, row as line,
        0 as qty_in, from_units as qty_out, file, sheet, row from record.repacks
    union all by name
    select site, to_beer as beer, to_package as package, date, 'repacked in' as kind, 4 as place, document, row as line,
        to_units as qty_in, 0 as qty_out, file, sheet, row from record.repacks
    union all by name
    select site, beer, package, date, 'shipped' as kind, 5 as place, document, line, 0 as qty_in, units as qty_out, file, sheet,
        row from record.shipments
    union all by name
    select site, beer, package, date, 'count' as kind, 6 as place, '' as document, row as line, 0 as qty_in, 0 as qty_out,
        units as counted_qty, file, sheet, row from record.counts
)
select * exclude (place, qty_in, qty_out, counted_qty), strftime(date, '%Y-%m') as month,
    qty_in::decimal(18,6) as qty_in, qty_out::decimal(18,6) as qty_out, counted_qty::decimal(18,6) as counted_qty,
    concat_ws(chr(31), site, beer, package) as item,
    row_number() over (partition by site, beer, package order by date, place, document, line, kind) as seq
from moved
"""


@lru_cache(maxsize=4)
def _frames(first_year: int, folder: Path | None) -> dict[str, Any]:
    return areas_frames.frames(areas.load(folder), first_year)


def books(
    records: Mapping[str, Sequence[Mapping[str, Any]]],
    *,
    filers: Sequence[Mapping[str, Any]] = (),
    sites: Mapping[str, str] | None = None,
    currency: str = "USD",
    folder: Path | None = None,
) -> duckdb.DuckDBPyConnection:
    """Compute excise of these records; every table gets its rows, the common ones are filled in where absent."""
    rows = {name: list(records.get(name, ())) for name in TABLES}
    rows["beers"] = rows["beers"] or [{"beer": "Pale", "abv_pct": 5, "original_plato": 12}]
    rows["packages"] += PACKAGES
    rows["accounts"] = rows["accounts"] or [{"account": "house", "kind": "retailer"}]
    days = sorted(row["date"] for name in ("shipments", "returns", "moves") for row in rows[name]) or [date(2026, 1, 1)]
    first, last = days[0], days[-1]
    con = duckdb.connect()
    made = settings.parse(
        {
            "name": "Invented", "currency": currency, "first_month": f"{first:%Y-%m}",
            "sites": [{"site": site, "area": area} for site, area in (sites or {"main": "US"}).items()],
            "filers": [dict(filer) for filer in filers],
        }
    )  # fmt: skip
    settings_frames.register(con, made)
    for name, frame in _frames(first.year, folder).items():
        con.register(name, frame)
    steps.run(con, {}, ["10_reference"])
    for name, columns in TABLES.items():
        con.execute(f"create table record.{name} ({columns}, file text default '{name}.csv', sheet text, row bigint)")
        for number, row in enumerate(rows[name], 2):
            values = {"row": number, **row}
            marks = ", ".join(f"${key}" for key in values)
            con.execute(f"insert into record.{name} ({', '.join(values)}) values ({marks})", values)
    con.execute("create table volume.lots (site text, lot text, beer text)")
    con.execute(_GOODS_EVENTS)
    con.execute(
        "create table record.months as select strftime(first_day, '%Y-%m') as month, first_day::date as first_day,"
        " last_day(first_day::date) as last_day, day(last_day(first_day::date)) as days"
        " from generate_series(date_trunc('month', $first::date), $last::date, interval 1 month) as t(first_day)",
        {"first": first, "last": last},
    )
    steps.run(con, {}, ["50_excise"])
    return con


def ship(day: date, package_name: str, units: int, document: str = "S1", **more: Any) -> dict[str, Any]:
    """One shipment line."""
    return {"document": document, "date": day, "package": package_name, "units": units, **more}


def duty(con: duckdb.DuckDBPyConnection, area: str = "US") -> Decimal:
    """The whole duty of an area."""
    rows = con.execute("select coalesce(sum(amount), 0) from excise.duty where area = $area", {"area": area}).fetchall()

    return Decimal(rows[0][0])


def problems(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Codes of the findings."""
    return {code for (code,) in con.execute("select code from excise.problems").fetchall()}
