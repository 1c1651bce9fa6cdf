"""A month as it would be with other prices, volumes, losses or rates: the same computation on a copy of the books.

Nothing is costed here. The records are loaded as for a report, some of them are changed, and the same SQL computes them; no
change gives the same tables. A change holds for all months of the books, as if it had always been so, because the stock a
month sells was bought and brewed before it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost import closing, pipeline, settings
from brewcost.settings_model import STAGES, Settings

if TYPE_CHECKING:
    import duckdb

    from brewcost.books import Books

ONE = Decimal(1)
_CHANGE = re.compile(r"([+-]?)([0-9]+(?:\.[0-9]+)?)(%?)")
# What a change may come to, so that every figure stays one that the books can hold.
_LEAST_PCT, _MOST_PCT, _MOST, _MOST_LOSS = -99, 1000, 10**7, 99


class WhatIfError(ValueError):
    """A change cannot be understood, or names something the books do not have."""


@dataclass(frozen=True)
class Change:
    """`+10%`, `-5`, or `7.00`: times a factor, plus an amount, or a new figure."""

    factor: Decimal = ONE
    plus: Decimal = Decimal(0)
    new: Decimal | None = None


@dataclass(frozen=True)
class Changes:
    """What is to be different.

    Args:
        materials: what a material, or every material of a kind, costs: by name, as a factor.
        volume: how many times the brews, runs and shipments there are; 1.2 is a fifth more of each.
        prices: what the brewery gets, by package, beer, `beer/package` or `all`.
        losses: the loss of a stage in per cent of what goes into it.
        rates: the rate of duty, by area or `area/first words of the band`.
    """

    materials: Mapping[str, Decimal] = field(default_factory=dict)
    volume: Decimal = ONE
    prices: Mapping[str, Change] = field(default_factory=dict)
    losses: Mapping[str, Decimal] = field(default_factory=dict)
    rates: Mapping[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True)
class Line:
    """One figure of the month, as it is and as it would be (None: there is none)."""

    subject: str
    figure: str
    unit: str
    now: Decimal | None
    then: Decimal | None

    @property
    def difference(self) -> Decimal | None:
        return None if self.now is None or self.then is None else self.then - self.now


def change(text: str) -> Change:
    """Read `+10%`, `-5`, `+0.25` or `150`; raises WhatIfError."""
    found = _CHANGE.fullmatch(str(text).strip().replace(",", ""))
    if not found:
        raise WhatIfError(f"{text!r} is not a change; write +10%, -5 or a new figure such as 150")
    sign, digits, per_cent = found.groups()
    figure = Decimal(digits) * (-1 if sign == "-" else 1)
    if per_cent:
        if not sign or not _LEAST_PCT <= figure <= _MOST_PCT:
            raise WhatIfError(f"{text!r} is not a change; a per cent has a sign and is from {_LEAST_PCT}% to +{_MOST_PCT}%")
        return Change(factor=1 + figure / 100)
    if abs(figure) > _MOST:
        raise WhatIfError(f"{text!r} is not a change; an amount is at most {_MOST}")
    return Change(plus=figure) if sign else Change(new=figure)


def factor(text: str) -> Decimal:
    """Read `+10%` as 1.10; raises WhatIfError for anything but a per cent."""
    read = change(text)
    if read.plus or read.new is not None:
        raise WhatIfError(f"{text!r} is not a per cent; write it as +10% or -10%")
    return read.factor


def load(path: Path) -> Changes:
    """Read the changes from a TOML file: volume = "+20%", and the tables materials, prices, losses and rates.

    Raises:
        WhatIfError: it cannot be read, or holds something else.
    """
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8-sig"), parse_float=Decimal)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise WhatIfError(f"{path}: {error}") from error
    return parse(values)


def parse(values: Mapping[str, Any]) -> Changes:
    """The changes in parsed TOML or gathered options; raises WhatIfError."""
    known = ("materials", "volume", "prices", "losses", "rates")
    for name, value in values.items():
        if name not in known or (name != "volume") != isinstance(value, Mapping):
            raise WhatIfError(f"{name} is not a change; expected volume = \"+20%\" or a table of {', '.join(known)}")
    losses = {stage: _number(stage, pct, _MOST_LOSS) for stage, pct in values.get("losses", {}).items()}
    for stage in losses:
        if stage not in STAGES:
            raise WhatIfError(f"{stage!r} is not a stage; the stages are {', '.join(STAGES)}")
    return Changes(
        materials={name: factor(text) for name, text in values.get("materials", {}).items()},
        volume=factor(values["volume"]) if "volume" in values else ONE,
        prices={name: change(text) for name, text in values.get("prices", {}).items()},
        losses=losses,
        rates={name: _number(name, rate, _MOST) for name, rate in values.get("rates", {}).items()},
    )


def _number(name: str, value: object, most: int) -> Decimal:
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or not 0 <= number <= most:
        raise WhatIfError(f"{name}: {value!r} is not a number from 0 to {most}")
    return number


def compare(books: Books, month: str | None, changes: Changes) -> tuple[str, list[Line], list[str]]:
    """One month as it is and as it would be.

    Args:
        books: the folder; its database is neither read nor written.
        month: such as `2026-03`; the latest month with records where None.
        changes: what is to be different.

    Returns:
        The month, the figures side by side, and what is to be known of them.

    Raises:
        WhatIfError: a change names something the books do not have, or there is no such month.
        SettingsError, AreaError, StepError: as pipeline.build.
    """
    import duckdb

    chosen = settings.load(books.settings)
    now, then = duckdb.connect(), duckdb.connect()
    try:
        pipeline.compute(now, books, chosen, frozen=False)
        months = [found for (found,) in now.execute("select month from report.months order by month").fetchall()]
        if not months or (month or months[-1]) not in months:
            raise WhatIfError(f"{month or 'the month'} is not a month of these books")
        month = month or months[-1]
        compute(then, books, chosen, changes, now)
        sides = [figures(now, month, ONE), figures(then, month, changes.volume)]
        keys = list(dict.fromkeys(key for side in sides for key in side))
        lines = [Line(*key, sides[0].get(key), sides[1].get(key)) for key in keys]
        return month, lines, _remarks(books, now, month, changes)
    finally:
        now.close()
        then.close()


def compute(
    con: duckdb.DuckDBPyConnection, books: Books, chosen: Settings, changes: Changes,
    base: duckdb.DuckDBPyConnection,
) -> None:  # fmt: skip
    """Fill an empty database with the changed books; `base` holds them as they are. Raises as `compare` does."""
    from brewcost.what_if_losses import scale_losses

    def changed(con: duckdb.DuckDBPyConnection) -> None:
        _materials(con, changes.materials)
        _prices(con, changes.prices)
        _rates(con, changes.rates)
        scale_losses(con, base, changes.losses)
        _volume(con, changes.volume)

    pipeline.compute(con, books, chosen, changed=changed, frozen=False)


def figures(con: duckdb.DuckDBPyConnection, month: str, times: Decimal) -> dict[tuple[str, str, str], Decimal | None]:
    """The figures of a month by subject, name and unit.

    Args:
        con: computed books.
        month: such as `2026-03`.
        times: how many of each brew and sale there are: amounts and barrels count that often, ratios do not.
    """
    found = con.execute(
        """
        select subject, figure, unit, value
        from (
            select 1 as part, place, 'all beers' as subject, figure, unit, value
            from report.margin_figures
            where month = $month and place <= 11
            union all
            select 2 as part, place, 'all beers' as subject, figure, unit, value
            from report.break_even
            where month = $month and place in (6, 11, 12)
            union all
            select 3 as part, unnest([1, 2, 3]) as place, beer as subject,
                unnest(['margin', 'margin per barrel', 'cost of goods sold per barrel']) as figure,
                unnest([currency, currency || ' per bbl', currency || ' per bbl']) as unit,
                unnest([margin, margin_per_bbl, cost_per_bbl]) as value
            from report.margins_by_beer
            cross join result.books
            where month = $month
        )
        order by part, case when part = 3 then subject end, place
        """,
        {"month": month},
    ).fetchall()
    return {
        (subject, figure, unit): value * times if value is not None and not _ratio(unit) else value
        for subject, figure, unit, value in found
    }


def _ratio(unit: str) -> bool:
    return unit == "%" or " per " in unit


def _materials(con: duckdb.DuckDBPyConnection, factors: Mapping[str, Decimal]) -> None:
    for name, times in factors.items():
        _known(con, name, "select material from record.materials union select kind from record.materials", "material")
        for table in ("opening_materials", "receipts", "invoices"):
            con.execute(
                f"""update record.{table} set cost = part6(cost, $times, 1) where material in (
                    select material from record.materials where lower($name) in (lower(material), kind))""",
                {"name": name, "times": times},
            )


def _prices(con: duckdb.DuckDBPyConnection, prices: Mapping[str, Change]) -> None:
    for name, wanted in prices.items():
        beer, _, package = name.partition("/")
        if package:
            _known(con, beer, "select beer from record.beers", "beer")
            _known(con, package, "select package from record.packages", "package")
        elif name != "all":
            _known(con, name, "select beer from record.beers union select package from record.packages", "beer or package")
        for table in ("prices", "shipments"):
            con.execute(
                f"""update record.{table}
                set unit_price = greatest(coalesce($new, part6(unit_price, $times, 1) + $plus), 0)::decimal(18,6)
                where unit_price is not null and case when $package <> ''
                    then lower(beer) = lower($beer) and lower(package) = lower($package)
                    else lower($beer) in ('all', lower(beer), lower(package)) end""",
                {"new": wanted.new, "times": wanted.factor, "plus": wanted.plus, "beer": beer, "package": package},
            )


def _rates(con: duckdb.DuckDBPyConnection, rates: Mapping[str, Decimal]) -> None:
    for name, rate in rates.items():
        area, _, band = name.partition("/")
        _known(con, area, "select distinct area from given_area_rates", "area with rates")
        bands = con.execute(
            "select distinct band, starts_with(lower(band), lower($band)) from given_area_rates where area = upper($area)",
            {"area": area, "band": band},
        ).fetchall()
        if not any(fits for _, fits in bands):
            raise WhatIfError(f"{name!r} is no band of {area.upper()}; there are {_some([found for found, _ in bands])}")
        _replace(
            con,
            "given_area_rates",
            """select * replace (case when area = upper($area) and starts_with(lower(band), lower($band))
                then $rate else rate end::decimal(18,6) as rate) from given_area_rates""",
            {"area": area, "band": band, "rate": rate},
        )


def _volume(con: duckdb.DuckDBPyConnection, times: Decimal) -> None:
    """More of the same brews, runs and sales. Costs per barrel that vary stay as they are; fixed ones are shared by more. So
    the fixed amounts, normal capacities and quotas are divided, and amounts and barrels are counted that often."""
    if times == 1:
        return
    con.execute(
        """update record.expenses set amount = part6(amount, 1, $times) where exists (
            select 1 from reference.pools where lower(pools.pool) = lower(expenses.pool) and behaviour = 'fixed'
                and coalesce(pools.site, expenses.site) = expenses.site
                and expenses.month between pools.from_month and pools.to_month)""",
        {"times": times},
    )
    con.execute("update reference.pool_normals set normal = part6(normal, 1, $times), budget = part6(budget, 1, $times)",
                {"times": times})  # fmt: skip
    con.execute(
        "update reference.filers set reduced_rate_quota_bbl = part6(reduced_rate_quota_bbl, 1, $times)", {"times": times}
    )
    con.execute("update reference.filers set remission_cap = part6(remission_cap, 1, $times)", {"times": times})
    con.execute(
        """update record.opening_duty set removed_bbl = part6(removed_bbl, 1, $times),
            tax_remitted = part6(tax_remitted, 1, $times)""",
        {"times": times},
    )
    _replace(con, "given_area_remissions", "select * replace (part6(cap, 1, $times) as cap) from given_area_remissions",
             {"times": times})  # fmt: skip
    _replace(
        con,
        "given_area_rates",
        """select * replace (
            case when counter is null then over else over::double / $times::double end::decimal(28,9) as over,
            case when counter is null then up_to else up_to::double / $times::double end::decimal(28,9) as up_to
        ) from given_area_rates""",
        {"times": times},
    )


def _replace(con: duckdb.DuckDBPyConnection, frame: str, query: str, parameters: Mapping[str, object]) -> None:
    """Put changed rates, or caps, where sql/50_excise reads the area files' own."""
    con.execute(f"create or replace temp table changed as {query}", dict(parameters))
    con.register(frame, con.table("changed").to_arrow_table())


def _known(con: duckdb.DuckDBPyConnection, name: str, query: str, what: str) -> None:
    names = [found for (found,) in con.execute(query).fetchall() if found]
    if name.casefold() not in (found.casefold() for found in names):
        raise WhatIfError(f"{name!r} is no {what} of these books; there are {_some(names)}")


def _some(names: list[str]) -> str:
    return ", ".join(sorted(names)[:12]) + (" ..." if len(names) > 12 else "")


def _remarks(books: Books, base: duckdb.DuckDBPyConnection, month: str, changes: Changes) -> list[str]:
    """What the comparison leaves as it is, and where the tanks would not hold it."""
    said = ["A change holds for all months of the books; counts, wages by the job and credits stay as recorded."]
    if month in (one.month for one in closing.read(books)):
        said.append(f"{month} is closed: both sides are what the records give now, not what was frozen.")
    if changes.volume != 1:
        said.append("Volume: so many times each brew, run and sale; fixed pools, quotas and thresholds stay what they are.")
        for kind, room, used in base.execute(
            "select kind, tank_days, used_days from report.tank_room where month = $month order by kind", {"month": month}
        ).fetchall():
            needed = used * changes.volume
            if needed > room:
                said.append(f"The {kind}s would be held {needed:,.0f} days; there are {room:,} tank-days in {month}.")
    if changes.losses:
        said.append("Losses: the same packages out of less or more wort; pools and wages are not changed.")
    return said


def both(first: Changes, second: Changes) -> Changes:
    """Two sets of changes together; where both name one thing, the second counts."""
    return Changes(
        materials={**first.materials, **second.materials},
        volume=first.volume * second.volume,
        prices={**first.prices, **second.prices},
        losses={**first.losses, **second.losses},
        rates={**first.rates, **second.rates},
    )


def shown(month: str, lines: list[Line]) -> list[str]:
    """The comparison as lines of text, in columns."""

    def text(value: Decimal | None) -> str:
        return "-" if value is None else f"{value:,.2f}"

    rows = [("", month, "as it is", "as it would be", "difference", "")]
    rows += [
        (line.subject, line.figure, text(line.now), text(line.then), text(line.difference), line.unit) for line in lines
    ]
    widths = [max(len(row[place]) for row in rows) for place in range(6)]
    return [
        f"{row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]:>{widths[2]}}  {row[3]:>{widths[3]}}  "
        f"{row[4]:>{widths[4]}}  {row[5]}".rstrip()
        for row in rows
    ]
