"""The brewer's statistics of the books: tanks, beers and packages compared, month by month.

Reads the result tables and hands frames back; the report tables are made from them. Nothing here touches cost or duty. The
methods are in `comparison.py` and `reconciliation.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb
    import polars as pl

STAGES = ("kettle", "fermenter", "transfer", "bright_tank", "packaging")
MONTHS_BACK = 12  # a tank that was mended is judged by its last twelve months
LEAST_DAYS = 28  # a rate a year is not made of fewer days than this
JOB_COLUMNS = (
    "month", "date", "site", "stage", "record", "beer", "package", "form", "from_vessel", "to_vessel", "emptied",
    "volume_in_bbl", "loss_bbl", "excess_bbl", "reading_error_bbl", "loss_cost",
)  # fmt: skip
COLUMNS = (
    "month", "site", "stage", "factor", "level", "jobs_count", "volume_bbl", "unit", "raw_effect", "raw_error", "p_value",
    "effect", "effect_low", "effect_high", "year_bbl", "year_low_bbl", "year_high_bbl", "cost_per_bbl", "found",
)  # fmt: skip


def register(con: duckdb.DuckDBPyConnection) -> None:
    """Compare and reconcile; registers `given_loss_comparisons`, `given_reconciliation` and `given_chains`."""
    _compare(con)
    _reconcile(con)


def _compare(con: duckdb.DuckDBPyConnection) -> None:
    """Compare what stands in `result.loss_jobs` and register the outcome as `given_loss_comparisons`."""
    import polars as pl

    jobs = pl.DataFrame(
        con.table("result.loss_jobs").sort("date", "stage", "record").project(", ".join(JOB_COLUMNS)).fetchall(),
        schema=_job_kinds(), orient="row", strict=False,
    )  # fmt: skip
    months = con.execute("select month, last_day from record.months order by month").fetchall()
    rows = [row for month, last_day in months for row in _month(jobs, month, last_day)]
    kinds: dict[str, Any] = dict.fromkeys(COLUMNS, pl.Float64) | {
        "month": pl.String, "site": pl.String, "stage": pl.String, "factor": pl.String, "level": pl.String,
        "unit": pl.String, "jobs_count": pl.Int64, "found": pl.Boolean,
    }  # fmt: skip
    con.register("given_loss_comparisons", pl.DataFrame(rows, schema=kinds, orient="row").to_arrow())


def _job_kinds() -> dict[str, Any]:
    import polars as pl

    figures = [name for name in JOB_COLUMNS if name.endswith(("_bbl", "_cost"))]
    kinds: dict[str, Any] = dict.fromkeys(JOB_COLUMNS, pl.String) | dict.fromkeys(figures, pl.Float64)
    return kinds | {"date": pl.Date, "emptied": pl.Boolean}


def _month(jobs: pl.DataFrame, month: str, last_day: date) -> Iterator[tuple[Any, ...]]:
    """What the twelve months up to one month say; all its levels are one family."""
    import polars as pl

    from brewcost import comparison

    year, number = int(month[:4]), int(month[5:])
    first = f"{year - 1 if number < 12 else year}-{number % 12 + 1:02d}" if MONTHS_BACK == 12 else ""
    seen = jobs.filter((pl.col("month") <= month) & (pl.col("month") >= first))
    if not len(seen):
        return
    days = max((last_day - min(seen["date"].to_list())).days + 1, LEAST_DAYS)
    compared: list[tuple[str, str, float | None, dict[str, float], comparison.Effect]] = []
    for (site, stage), part in sorted(seen.group_by("site", "stage"), key=lambda item: str(item[0])):
        factors = list(_factors(str(stage), part))
        excess, error = part["excess_bbl"].cast(pl.Float64).to_numpy(), part["reading_error_bbl"].cast(pl.Float64).to_numpy()
        priced = pl.col("loss_cost").is_not_null() & (pl.col("loss_bbl") > 0)
        lost = part.filter(priced).select("loss_cost", "loss_bbl").sum()
        cost = lost["loss_cost"][0] / lost["loss_bbl"][0] if lost["loss_bbl"][0] else None
        volumes = {
            name: dict(part.group_by(column).agg(pl.col("volume_in_bbl").sum()).iter_rows())
            for name, column in _COLUMN.items()
        }
        compared += [
            (str(site), str(stage), cost, volumes[effect.factor], effect)
            for effect in comparison.effects(factors, excess, error)
        ]
    comparison.judge([effect for *_, effect in compared])
    for site, stage, cost, volume_of, effect in compared:
        volume, by_volume = volume_of[effect.level], effect.factor in ("beer", "package")
        per_year = (volume if by_volume else effect.jobs) * 365 / days
        shown = 100 if by_volume else 1
        yield (
            month, site, stage, effect.factor, effect.level, effect.jobs, volume,
            "% of volume" if by_volume else "bbl a job", effect.raw * shown, effect.error * shown, effect.p_value,
            effect.shrunken * shown, effect.low * shown, effect.high * shown, effect.shrunken * per_year,
            effect.low * per_year, effect.high * per_year, cost, effect.found,
        )  # fmt: skip


_COLUMN = {"from tank": "from_vessel", "into tank": "to_vessel", "beer": "beer", "package": "package"}


def _factors(stage: str, jobs: pl.DataFrame) -> Iterator[Any]:
    """What a stage's jobs are compared by: the tanks they touch in barrels a job, the beer and package by volume."""
    import numpy as np
    import polars as pl

    from brewcost.comparison import Factor

    volume = jobs["volume_in_bbl"].cast(pl.Float64).to_numpy()
    each = np.ones(len(jobs))
    if stage != "kettle":
        # A tank's own mistake cancels between two dips of one filling; it shows where the last of the beer is taken.
        size = jobs["emptied"].cast(pl.Float64).to_numpy() if stage == "packaging" else each
        yield Factor("from tank", jobs["from_vessel"].to_list(), size)
    if stage in ("kettle", "transfer"):
        yield Factor("into tank", jobs["to_vessel"].to_list(), each)
    yield Factor("beer", jobs["beer"].to_list(), volume, centred=False)
    if stage == "packaging":
        # Cans and kegs lose differently by their nature; each is compared with its like only.
        forms = {str(package): str(form) for package, form in jobs.select("package", "form").unique().iter_rows()}
        yield Factor("package", jobs["package"].to_list(), volume, forms)


def _reconcile(con: duckdb.DuckDBPyConnection) -> None:
    """Reconcile all chains of readings and register the outcomes: `given_reconciliation` a reading, `given_chains` a chain."""
    import numpy as np
    import polars as pl
    from scipy import special

    from brewcost.reconciliation import reconcile

    readings = con.execute("""
        select volume_bbl::double as volume, tolerance_bbl::double as tolerance, dense_rank() over (order by site, lot) as lot
        from result.chain_readings order by number
    """).fetchnumpy()
    balances = con.execute("""
        select usual_bbl::double as usual, spread_bbl::double as spread, coalesce(follows, 0) as follows
        from result.chain_balances order by number
    """).fetchnumpy()
    entries = con.execute("""
        select balances.number - 1 as balance, entries.number - 1 as reading, entries.sign
        from result.chain_entries as entries
        join result.chain_balances as balances using (site, balance)
    """).fetchnumpy()
    # Behind the readings stand the usual losses; that of a lot's stretch is what its balance has lost since the one before.
    count, own = len(readings["volume"]), np.arange(len(balances["usual"]))
    later = np.flatnonzero(balances["follows"])
    found = reconcile(
        np.concatenate([entries["balance"], own, later]),
        np.concatenate([entries["reading"], count + own, count + balances["follows"][later] - 1]),
        np.concatenate([entries["sign"], np.full(len(own), -1), np.full(len(later), 1)]),
        np.concatenate([readings["volume"], balances["usual"]]),
        np.concatenate([readings["tolerance"], balances["spread"]]),
        np.arange(count + len(own)) < count,
        np.concatenate([readings["lot"], np.zeros(len(own), np.int64)]),
    )
    chain = found.chain[:count]
    con.register("given_reconciliation", pl.DataFrame({
        "number": np.arange(1, count + 1), "chain": chain, "reconciled_bbl": found.volume[:count],
        "reconciled_error_bbl": found.error[:count], "z": found.z[:count], "limit_z": found.limit[chain],
        "blamed": found.blamed[:count],
    }).to_arrow())  # fmt: skip
    blamed = np.bincount(chain[found.blamed[:count] == 1], minlength=len(found.limit))
    con.register("given_chains", pl.DataFrame({
        "chain": np.arange(len(found.limit)), "balances_count": found.balances, "blamed_count": blamed, "misfit": found.misfit,
        "p_value": special.chdtrc(np.maximum(found.balances, 1), found.misfit), "misfit_after": found.misfit_after,
        "p_value_after": special.chdtrc(np.maximum(found.balances - blamed, 1), np.maximum(found.misfit_after, 0)),
    }).to_arrow())  # fmt: skip
