"""The brewer's statistics of the books: tanks, beers and packages compared, month by month.

Reads the result tables and hands frames back; the report tables are made from them. Nothing here touches cost or duty. The
methods are in `comparison.py` and `reconciliation.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

    from brewcost import comparison

MONTHS_BACK = 12  # a tank that was mended is judged by its last twelve months
LEAST_DAYS = 28  # a rate a year is not made of fewer days than this
COLUMNS = (
    "month", "site", "stage", "factor", "level", "jobs_count", "volume_bbl", "unit", "raw_effect", "raw_error", "p_value",
    "effect", "effect_low", "effect_high", "year_bbl", "year_low_bbl", "year_high_bbl", "cost_per_bbl", "found",
)  # fmt: skip


def register(con: duckdb.DuckDBPyConnection) -> None:
    """Compare and reconcile; registers `given_loss_comparisons`, `given_reconciliation` and `given_chains`."""
    _compare(con)
    _reconcile(con)


@dataclass(frozen=True)
class _Jobs:
    """`result.loss_jobs` as columns sorted by site, stage and month; names are numbers, -1 where there is none."""

    names: dict[str, list[str]]  # by kind of name: what each number stands for
    column: dict[str, Any]
    sets: list[tuple[str, str, int, int]]  # site, stage, first job, the one behind the last

    def between(self, begin: int, end: int, first: int, last: int) -> slice:
        """The jobs of a set in some months, by their numbers."""
        month = self.column["month"][begin:end]
        return slice(*(begin + int(i) for i in month.searchsorted([first, last + 1])))


NAMED = {"from tank": "from_vessel", "into tank": "to_vessel", "beer": "beer", "package": "package"}


def _jobs(con: duckdb.DuckDBPyConnection) -> _Jobs:
    import numpy as np
    import polars as pl

    frame: pl.DataFrame = con.sql("""
        select site, stage, month, beer, package, form, from_vessel, to_vessel,
            (date - date '1970-01-01')::integer as day, emptied::double as emptied, volume_in_bbl::double as volume,
            excess_bbl::double as excess, reading_error_bbl::double as error,
            if(loss_cost is not null and loss_bbl > 0, loss_bbl, 0)::double as priced,
            if(loss_cost is not null and loss_bbl > 0, loss_cost, 0)::double as cost
        from result.loss_jobs
        order by site, stage, month, date, record
    """).pl()
    names = {"month": [str(row[0]) for row in con.execute("select month from record.months order by month").fetchall()]}
    for name in (*NAMED.values(), "form"):
        names[name] = frame[name].unique().drop_nulls().sort().to_list()
    column = {
        name: frame[name].cast(pl.Enum(names[name])).to_physical().cast(pl.Int64).fill_null(-1).to_numpy() if name in names
        else frame[name].to_numpy()
        for name in frame.columns if name not in ("site", "stage")
    }  # fmt: skip
    counts = frame.group_by("site", "stage", maintain_order=True).len().rows()
    ends = np.cumsum([count for *_, count in counts]).tolist()
    sets = [(site, stage, end - count, end) for (site, stage, count), end in zip(counts, ends, strict=True)]
    return _Jobs(names, column, sets)


def _compare(con: duckdb.DuckDBPyConnection) -> None:
    """Compare what stands in `result.loss_jobs` and register the outcome as `given_loss_comparisons`."""
    import polars as pl

    kinds: dict[str, Any] = dict.fromkeys(COLUMNS, pl.Float64) | {
        "month": pl.String, "site": pl.String, "stage": pl.String, "factor": pl.String, "level": pl.String,
        "unit": pl.String, "jobs_count": pl.Int64, "found": pl.Boolean,
    }  # fmt: skip
    jobs = _jobs(con)
    last_days = con.execute("select (last_day - date '1970-01-01')::integer from record.months order by month").fetchall()
    frames = [
        pl.DataFrame(list(_month(jobs, number, last_day)), schema=kinds, orient="row")
        for number, (last_day,) in enumerate(last_days)
    ]
    con.register("given_loss_comparisons", pl.concat([pl.DataFrame(schema=kinds), *frames]).to_arrow())


def _month(jobs: _Jobs, month: int, last_day: int) -> Iterator[tuple[Any, ...]]:
    """What the twelve months up to one month say; all its levels are one family."""
    import numpy as np

    from brewcost import comparison

    seen = [(site, stage, jobs.between(begin, end, month - MONTHS_BACK + 1, month)) for site, stage, begin, end in jobs.sets]
    seen = [(site, stage, part) for site, stage, part in seen if part.stop > part.start]
    if not seen:
        return
    column = jobs.column
    days = max(last_day - min(int(column["day"][part].min()) for *_, part in seen) + 1, LEAST_DAYS)
    stages = [comparison.Jobs(list(_factors(jobs, stage, part)), column["excess"][part], column["error"][part])
              for _, stage, part in seen]  # fmt: skip
    compared: list[tuple[str, str, float | None, dict[str, Any], comparison.Effect]] = []
    for (site, stage, part), effects in zip(seen, comparison.effects(stages), strict=True):
        priced = float(column["priced"][part].sum())
        cost = float(column["cost"][part].sum()) / priced if priced else None
        volumes = {
            factor: np.bincount(column[name][part] + 1, column["volume"][part], len(jobs.names[name]) + 1)[1:]
            for factor, name in NAMED.items()
        }
        volumes["stage"] = column["volume"][part].sum()[None]
        whole = comparison.against_allowance(column["volume"][part], column["excess"][part])
        if whole is not None:
            share, error, p_value, half = whole
            jobs_count = part.stop - part.start
            compared.append((site, stage, cost, volumes, comparison.Effect(
                "stage", 0, jobs_count, jobs_count - 1, share, error, p_value, share, share - half, share + half
            )))  # fmt: skip
        compared += [(site, stage, cost, volumes, effect) for effect in effects]
    comparison.judge([effect for *_, effect in compared])
    for site, stage, cost, volumes, effect in compared:
        volume, by_volume = float(volumes[effect.factor][effect.level]), effect.factor in ("beer", "package", "stage")
        per_year = (volume if by_volume else effect.jobs) * 365 / days
        shown = 100 if by_volume else 1
        yield (
            jobs.names["month"][month], site, stage, effect.factor,
            jobs.names[NAMED[effect.factor]][effect.level] if effect.factor in NAMED else stage.replace("_", " "),
            effect.jobs, volume, "% of volume" if by_volume else "bbl a job", effect.raw * shown, effect.error * shown,
            effect.p_value, effect.shrunken * shown, effect.low * shown, effect.high * shown, effect.shrunken * per_year,
            effect.low * per_year, effect.high * per_year, cost, effect.found,
        )  # fmt: skip


def _factors(jobs: _Jobs, stage: str, part: slice) -> Iterator[comparison.Factor]:
    """What a stage's jobs are compared by: the tanks they touch in barrels a job, the beer and package by volume."""
    import numpy as np

    from brewcost.comparison import Factor

    column = {name: values[part] for name, values in jobs.column.items()}
    each = np.ones(part.stop - part.start)
    if stage != "kettle":
        # A tank's own mistake cancels between two dips of one filling; it shows where the last of the beer is taken.
        yield Factor("from tank", column["from_vessel"], column["emptied"] if stage == "packaging" else each)
    if stage in ("kettle", "transfer"):
        yield Factor("into tank", column["to_vessel"], each)
    yield Factor("beer", column["beer"], column["volume"], centred=False)
    if stage == "packaging":
        # Cans and kegs lose differently by their nature; each is compared with its like only.
        forms = np.full(len(jobs.names["package"]) + 1, -1)  # the last for jobs without a package
        forms[column["package"]] = column["form"]
        yield Factor("package", column["package"], column["volume"], forms)


def _reconcile(con: duckdb.DuckDBPyConnection) -> None:
    """Reconcile all chains of readings and register the outcomes: `given_reconciliation` a reading, `given_chains` a chain.

    What a tank was found to lose more, beyond chance, is usual for it: no reading is blamed for a leak.
    """
    import numpy as np
    import polars as pl
    from scipy import special

    from brewcost.reconciliation import reconcile

    readings = con.execute("""
        select volume_bbl::double as volume, tolerance_bbl::double as tolerance, dense_rank() over (order by site, lot) as lot
        from result.chain_readings order by number
    """).fetchnumpy()
    balances = con.execute("""
        with known as (
            select jobs.site, sum(found.effect) as more_bbl,
                case jobs.stage when 'kettle' then 'kettle, brew ' when 'transfer' then 'transfer, move '
                    when 'packaging' then 'packaging, run ' else 'lot ' end || jobs.record as balance
            from result.loss_jobs as jobs
            join given_loss_comparisons as found
                on found.found and found.site = jobs.site and found.stage = jobs.stage
                and (found.factor = 'from tank' and found.level = jobs.from_vessel
                        and (jobs.stage <> 'packaging' or jobs.emptied)
                    or found.factor = 'into tank' and found.level = jobs.to_vessel)
                and found.month = least((select max(month) from record.months),
                    strftime(jobs.date + to_months($months_back - 1), '%Y-%m'))
            group by all
        )
        select usual_bbl::double + coalesce(known.more_bbl, 0) as usual, spread_bbl::double as spread,
            coalesce(follows, 0) as follows
        from result.chain_balances
        left join known using (site, balance)
        order by number
    """, {"months_back": MONTHS_BACK}).fetchnumpy()
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
