"""Other losses for what_if: the same packages out of less or more beer, followed back through the lots to the materials."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb

ONE = Decimal(1)
Lot = tuple[str, str]  # site, lot


def scale_losses(
    con: duckdb.DuckDBPyConnection, base: duckdb.DuckDBPyConnection, losses: Mapping[str, Decimal]
) -> None:
    """Change the records of `con` so that each stage named loses that share of what goes into it.

    What a stage must take in to give what it gave is (1 - loss now) / (1 - loss then) times as much; every reading of that
    stage changes alike, so one brew stays better than another. What feeds it follows: transfers, lots, brews, and what was
    put into them. Stages that nobody measured stay as they are.

    Args:
        con: the loaded records; changed.
        base: the same books computed, which say what the losses are.
        losses: loss in per cent of the volume in, by stage.
    """
    if not losses:
        return
    gains = _gains(base, losses)
    lots = _lot_factors(base, gains)
    con.execute("create temp table lot_factors (site text, lot text, factor double)")
    con.executemany("insert into lot_factors values (?, ?, ?)", [[site, lot, float(f)] for (site, lot), f in lots.items()])
    con.execute("create temp table stage_factors (stage text, factor double)")
    con.executemany(
        "insert into stage_factors values (?, ?)",
        [[stage, float(gains.get(stage, ONE))] for stage in ("kettle", "transfer", "packaging")],
    )
    for statement in _STATEMENTS:
        con.execute(statement)


def _gains(base: duckdb.DuckDBPyConnection, losses: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """How many times as much each stage has to be given, where it is read, so that all of it loses as asked.

    What is only counted (rejected packages) stays: with given g times `read`, (g read - good + counted loss) must be the
    share asked of (g read + counted). A stage gives no more than it is given, so g is not below good / read.
    """
    gains = {}
    for stage, read, good, counted, counted_loss in base.execute(
        """
        with losses as (
            select losses.stage, losses.volume_in_bbl, losses.volume_out_bbl, losses.loss_bbl,
                coalesce(run_lines.measured, true) as was_read
            from volume.stage_losses as losses
            left join volume.run_lines on run_lines.run = losses.run and run_lines.line = losses.line
            where losses.loss_bbl is not null
        )
        select stage, sum(volume_in_bbl) filter (where was_read), sum(volume_out_bbl) filter (where was_read),
            coalesce(sum(volume_in_bbl) filter (where not was_read), 0),
            coalesce(sum(loss_bbl) filter (where not was_read), 0)
        from losses
        group by stage
        """
    ).fetchall():
        if stage in losses and read:
            share = losses[stage] / 100
            gains[stage] = max((share * counted + good - counted_loss) / (read * (1 - share)), good / read)
    return gains


def _lot_factors(base: duckdb.DuckDBPyConnection, gains: Mapping[str, Decimal]) -> dict[Lot, Decimal]:
    """How many times as much each lot has to be given: the mean over what it gives, times its own stage's.

    A lot is worked out after the lots it feeds; moves that close a ring stand in no table of `base`.
    """
    draws: dict[Lot, list[tuple[Decimal, Decimal, Lot | None]]] = defaultdict(list)
    for site, lot, volume, measured, to_lot in base.execute(
        "select site, from_lot, volume_out_bbl, measured, to_lot from volume.moves"
    ).fetchall():
        times = gains.get("transfer", ONE) if measured and to_lot is not None else ONE
        draws[site, lot].append((volume, times, None if to_lot is None else (site, to_lot)))
    for site, lot, volume, measured in base.execute(
        "select site, lot, drawn_bbl, measured from volume.run_lines"
    ).fetchall():
        draws[site, lot].append((volume, gains.get("packaging", ONE) if measured else ONE, None))
    lots = {
        (site, lot): (stage, emptied)
        for site, lot, stage, emptied in base.execute(
            "select site, lot, stage, emptied_on is not null from volume.lots"
        ).fetchall()
    }
    held = {
        (site, lot): bbl
        for site, lot, bbl in base.execute(
            "select site, lot, arg_max(closing_bbl, month) from volume.lot_months group by site, lot"
        ).fetchall()
    }
    factors: dict[Lot, Decimal] = {}
    waiting = list(lots)
    while waiting:
        later = []
        for lot in waiting:
            fed = [to_lot for _, _, to_lot in draws[lot] if to_lot in lots and to_lot not in factors]
            if fed:
                later.append(lot)
                continue
            stage, emptied = lots[lot]
            given = [(volume, times * factors.get(to_lot, ONE) if to_lot else times) for volume, times, to_lot in draws[lot]]
            if not emptied:
                given.append((max(held.get(lot, Decimal(0)), Decimal(0)), ONE))  # what it still holds is worth no more
            whole = sum((volume for volume, _ in given), Decimal(0))
            mean = sum((volume * times for volume, times in given), Decimal(0)) / whole if whole > 0 else ONE
            factors[lot] = mean * (gains.get(stage, ONE) if emptied else ONE)
        if len(later) == len(waiting):
            factors |= dict.fromkeys(later, ONE)
            break
        waiting = later
    return factors


_BREWS = """
    create temp table brew_factors as
    select brews.brew, coalesce(lot_factors.factor, 1) as factor,
        coalesce(lot_factors.factor, 1) * case when brews.end_of_boil_bbl is null then 1 else kettle.factor end as hot
    from record.brews
    join stage_factors as kettle on kettle.stage = 'kettle'
    left join lot_factors using (site, lot)"""
_STATEMENTS = (
    _BREWS,
    """update record.brews set into_fermenter_bbl = part6(into_fermenter_bbl, factors.factor, 1),
        end_of_boil_bbl = part6(end_of_boil_bbl, factors.hot, 1), kettle_full_bbl = part6(kettle_full_bbl, factors.hot, 1),
        strike_bbl = part6(strike_bbl, factors.hot, 1)
    from brew_factors as factors where factors.brew = brews.brew""",
    """update record.moves set volume_out_bbl = part6(volume_out_bbl,
            factors.factor * case when volume_in_bbl is null then 1 else transfer.factor end, 1),
        volume_in_bbl = part6(volume_in_bbl, factors.factor, 1)
    from lot_factors as factors, stage_factors as transfer
    where factors.site = moves.site and factors.lot = moves.to_lot and transfer.stage = 'transfer'""",
    """update record.packaging set volume_drawn_bbl = part6(volume_drawn_bbl, packaging_factor.factor, 1)
    from stage_factors as packaging_factor where packaging_factor.stage = 'packaging'""",
    """update record.opening_lots set volume_bbl = part6(volume_bbl, factor, 1),
        cost_ingredients = part6(cost_ingredients, factor, 1), cost_labour = part6(cost_labour, factor, 1),
        cost_overhead = part6(cost_overhead, factor, 1)
    from lot_factors as factors where factors.site = opening_lots.site and factors.lot = opening_lots.lot""",
    """update record.beer_in set volume_bbl = part6(volume_bbl, factor, 1), cost = part6(cost, factor, 1)
    from lot_factors as factors where factors.site = beer_in.site and factors.lot = beer_in.lot""",
    """update record.readings set volume_bbl = part6(volume_bbl, factor, 1)
    from lot_factors as factors where factors.site = readings.site and factors.lot = readings.lot""",
    """update record.counts set volume_bbl = part6(volume_bbl, factor, 1)
    from lot_factors as factors where factors.site = counts.site and factors.lot = counts.lot""",
    # What is not used stands in the count: what a count found short or over stays the same.
    """create temp table saved as
    select uses.site, uses.material, uses.date,
        uses.stock_qty - part6(uses.stock_qty, coalesce(brew_factors.hot, lot_factors.factor, 1), 1) as stock_qty
    from record.uses
    left join brew_factors using (brew)
    left join lot_factors on lot_factors.site = uses.site and lot_factors.lot = uses.lot""",
    """update record.counts set stock_qty = greatest(stock_qty + coalesce((
        select sum(saved.stock_qty) from saved where saved.site = counts.site and saved.material = counts.material
            and saved.date <= coalesce(counts.counted_on, counts.date)), 0), 0)
    where material is not null""",
    """update record.uses set stock_qty = part6(stock_qty, factors.hot, 1)
    from brew_factors as factors where factors.brew = uses.brew""",
    """update record.uses set stock_qty = part6(stock_qty, factors.factor, 1),
        adds_volume_bbl = part6(adds_volume_bbl, factors.factor, 1)
    from lot_factors as factors where factors.site = uses.site and factors.lot = uses.lot""",
)
