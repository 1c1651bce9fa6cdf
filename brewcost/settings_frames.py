"""The settings as the frames that sql/10_reference reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from brewcost.chart import BY_AREA, CHART, OF_PROFIT, ROLLED
from brewcost.settings_model import LAST_MONTH, Pool, Settings

if TYPE_CHECKING:
    import duckdb


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
          "rolled": role in ROLLED, "of_profit": role in OF_PROFIT}
         for role, (number, name) in CHART.items()],
        {"role": text, "account": text, "name": text, "by_area": flag, "rolled": flag, "of_profit": flag},
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
         "producer": text, "annual_production": money, "remission": flag, "remission_cap": money},
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
