"""What is wrong in the sample brewery is found, and nothing else: the workbook against the scenario's own facts."""

from __future__ import annotations

import re
import shlex
import shutil
from decimal import Decimal
from pathlib import Path

import duckdb
import keys
import pytest
import sample_brewery_facts as facts
from openpyxl import load_workbook
from small_books import compute, one, rows

from brewcost import report, trace

LAST = "2026-03"


@pytest.fixture(scope="module")
def sample() -> duckdb.DuckDBPyConnection:
    return compute(Path(__file__).parents[1] / "sample_inputs")


def findings(con: duckdb.DuckDBPyConnection, month: str) -> dict[str, tuple[str, str]]:
    found = rows(con, "select * from report.loss_findings where month = ? order by place", [month])
    return {row["level"]: (row["stage"], row["what"]) for row in found}


def test_every_table_has_the_key_its_header_names(sample: duckdb.DuckDBPyConnection) -> None:
    assert not keys.broken(sample)


def test_every_example_of_explain_in_the_readme_is_a_figure_of_the_sample(sample: duckdb.DuckDBPyConnection) -> None:
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    table = readme[readme.index("### Explain") : readme.index("## The workbooks")]
    examples = [shlex.split(text) for text in re.findall(r"`([^`]+)`", table) if " " in text and "STAGE" not in text]
    assert {words[0] for words in examples} == {form.split()[0] for form in trace.FORMS}
    for words in examples:
        assert trace.explain(sample, words).parts, words


def test_exactly_the_three_faults_are_found(sample: duckdb.DuckDBPyConnection) -> None:
    found = findings(sample, LAST)
    assert found.keys() == {facts.LEAKING_TANK, facts.HIGH_DIPSTICK, facts.HOP_HUNGRY_BEER}
    assert found[facts.LEAKING_TANK] == ("transfer", "loses more than the others")
    assert found[facts.HIGH_DIPSTICK][1] == "reads high"
    assert found[facts.HOP_HUNGRY_BEER] == ("fermenter", "loses more than the others")


def test_no_earlier_month_blames_anything_else(sample: duckdb.DuckDBPyConnection) -> None:
    true = {facts.LEAKING_TANK, facts.HIGH_DIPSTICK, facts.HOP_HUNGRY_BEER}
    assert all(findings(sample, month).keys() <= true for month in ("2026-01", "2026-02"))


def test_no_reading_is_blamed_for_a_leak_that_is_known(sample: duckdb.DuckDBPyConnection) -> None:
    blamed = rows(sample, "from report.reconciliation where verdict = 'MOST LIKELY WRONG' and own")
    # One lot in a hundred without a mistake has a reading blamed, and there are 117.
    assert len(blamed) <= 2 and facts.LEAKING_TANK not in {row["vessel"] for row in blamed}


def test_a_loss_that_hangs_on_a_wrong_reading_is_not_called_real(tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(Path(__file__).parents[1] / "sample_inputs", folder)
    path = folder / "inputs" / "packaging-2026-03.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    place = next(n for n, line in enumerate(lines) if n and line.endswith("bbl,yes"))
    cells = lines[place].split(",")
    cells[10] = str(Decimal(cells[10]) + 4)
    path.write_text("\n".join([*lines[:place], ",".join(cells), *lines[place + 1:], ""]), encoding="utf-8")
    con = compute(folder)
    record = f"run {cells[0]} line {cells[1]}"
    assert one(con, "select verdict from report.losses where record like ? || ',%'", [record]) == "a reading is doubtful"
    assert one(con, "select count(*) from report.losses_to_act_on where record like ? || ',%'", [record]) == 0
    blamed = rows(con, "from report.reconciliation where verdict = 'MOST LIKELY WRONG' and own")
    assert (f"{record}, drawn", Decimal(cells[10])) in {(row["reading"], row["recorded_bbl"]) for row in blamed}


def test_the_intervals_hold_what_is_true_of_the_leak_and_the_dipstick(sample: duckdb.DuckDBPyConnection) -> None:
    # Against the mean of all tanks: one of n tanks that is off by d stands d * (1 - 1 / n) above it.
    for level, stage, true, tanks in (
        (facts.LEAKING_TANK, "transfer", facts.LEAK_BBL, 10),
        (facts.HIGH_DIPSTICK, "packaging", facts.DIPSTICK_BBL, 5),
    ):
        [row] = rows(sample, """
            select * from report.loss_comparisons where month = ? and level = ? and stage = ? and factor = 'from tank'
        """, [LAST, level, stage])  # fmt: skip
        assert float(row["effect_low"]) <= true * (1 - 1 / tanks) <= float(row["effect_high"])


def test_a_dipstick_costs_no_beer_and_a_leak_costs_what_its_barrels_cost(sample: duckdb.DuckDBPyConnection) -> None:
    cost = {row["level"]: row["year_cost"] for row in rows(sample, "from report.loss_findings where month = ?", [LAST])}
    assert cost[facts.HIGH_DIPSTICK] is None
    leak = rows(sample, "from report.loss_findings where month = ? and level = ?", [LAST, facts.LEAKING_TANK])[0]
    assert cost[facts.LEAKING_TANK] / leak["year_bbl"] == pytest.approx(110, rel=0.25)  # beer in process, USD a barrel
    assert 0 < leak["year_low_cost"] < leak["year_cost"] < leak["year_high_cost"]
    # A year at this rate: the effect times the moves of the three months' 90 days, brought to 365.
    assert float(leak["year_bbl"]) == pytest.approx(float(leak["effect"]) * leak["jobs_count"] * 365 / 90, rel=0.05)


def test_every_reading_of_the_chains_stands_beside_its_reconciled_one(sample: duckdb.DuckDBPyConnection) -> None:
    lots = one(sample, "select count(*) from result.lots")
    assert one(sample, "select count(distinct lot) from report.reconciliation") == lots
    counted = rows(sample, "from report.reconciliation where tolerance_bbl = 0 and adjustment_bbl <> 0")
    assert not counted
    blamed = rows(sample, "select distinct lot from report.reconciliation where verdict = 'MOST LIKELY WRONG'")
    assert len(blamed) <= 4  # two of some 110 lots by chance, and what the leak and the dipstick do


def test_a_reading_that_two_lots_share_is_one_reading_and_blamed_once(sample: duckdb.DuckDBPyConnection) -> None:
    shared = rows(sample, """
        select reading, count(*) as pages, count(distinct reconciled_bbl) as figures, count(*) filter (where own) as own
        from report.reconciliation where reading like 'move %' group by site, reading having count(*) > 1
    """)
    assert shared
    assert all((row["pages"], row["figures"], row["own"]) == (2, 1, 1) for row in shared)
    again = rows(sample, "from report.readings_to_take where what like '%most likely wrong%'")
    wrong = rows(sample, "select distinct site, reading from report.reconciliation where verdict = 'MOST LIKELY WRONG'")
    assert len(again) == len(wrong) > 0


def test_the_workbook_opens_on_the_three_of_them(sample: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    written = {book.name: book.path for book in report.write(sample, LAST, tmp_path)}
    sheet = load_workbook(written["losses.xlsx"]).worksheets[0]
    cells = [str(cell.value) for row in sheet.iter_rows(max_row=20) for cell in row if cell.value is not None]
    for name in (facts.LEAKING_TANK, facts.HIGH_DIPSTICK, facts.HOP_HUNGRY_BEER):
        assert any(name in cell for cell in cells), name


def test_every_mash_is_a_usual_one_and_the_hungry_beer_holds_more_for_each_pound_than_it_may(
    sample: duckdb.DuckDBPyConnection,
) -> None:
    # Usual infusions: 2.5 to 3.2 L a kg (check_values/loss_norms.csv, homebrewtechniques.com).
    mashes = [row["liquor_l_per_kg"] for row in rows(sample, "from result.brewhouse where liquor_l_per_kg is not null")]
    assert len(mashes) > 40 and 2.5 <= min(mashes) <= max(mashes) <= 3.2
    hops = {row["beer"]: row for row in rows(sample, "from report.hop_losses where month = ?", [LAST])}
    assert hops[facts.HOP_HUNGRY_BEER]["verdict"] == "MORE than allowed"
    assert [row["verdict"] for beer, row in hops.items() if beer != facts.HOP_HUNGRY_BEER] == ["as allowed"]
    error = float(hops[facts.HOP_HUNGRY_BEER]["reading_error_gal_per_lb"])
    assert abs(float(hops[facts.HOP_HUNGRY_BEER]["hop_loss_gal_per_lb"]) - facts.HOP_LOSS_GAL_PER_LB) < 2 * error


def test_a_tank_seen_from_one_side_only_is_not_said_to_lose(sample: duckdb.DuckDBPyConnection) -> None:
    # In January the high dipstick's tank was filled from too few to compare; from its packaging alone it may be a leak.
    [row] = rows(sample, "from report.loss_findings where month = '2026-01'")
    assert (row["level"], row["what"], row["year_cost"]) == (facts.HIGH_DIPSTICK, "loses more or reads high", None)
    assert row["look_at"].startswith("the dipstick first")


def test_a_missing_reading_costs_what_it_would_have_told(sample: duckdb.DuckDBPyConnection) -> None:
    never = rows(sample, "from report.readings_to_take where what like 'never taken%' and month <= '2026-03'")
    assert {row["what"].split(";")[0][13:] for row in never} == {
        "the kettle at the end of the boil", "the tank that was filled", "what was drawn from the tank",
    }  # fmt: skip
    # By hand: a tank of 0.2 and one of 0.15 bbl read a transfer to 0.25; with the usual loss a weighted mean of the two.
    moves = [row for row in never if row["record"].startswith("move")]
    assert len(moves) == 3
    for row in moves:
        assert float(row["with_bbl"]) ** -2 == pytest.approx(float(row["without_bbl"]) ** -2 + 0.25**-2, rel=1e-3)


def test_the_trend_is_the_months_own_losses(sample: duckdb.DuckDBPyConnection) -> None:
    trend = rows(sample, "from report.loss_trend order by month")
    assert [row["month"] for row in trend] == ["2026-01", "2026-02", "2026-03"]
    for row in trend:
        lost, into = sample.execute("""
            select sum(loss_bbl), sum(volume_in_bbl) from result.stage_losses
            where month = ? and stage = 'transfer' and loss_bbl is not null
        """, [row["month"]]).fetchall()[0]  # fmt: skip
        assert float(row["transfer_pct"]) == pytest.approx(100 * float(lost / into), abs=1e-5)


def test_the_intervals_are_drawn_largest_first_with_what_is_beyond_chance_marked(
    sample: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    written = {book.name: book.path for book in report.write(sample, LAST, tmp_path)}
    sheet = load_workbook(written["losses.xlsx"])["intervals"]
    shown = rows(sample, "select distinct panel from report.loss_intervals where month = ?", [LAST])
    assert len(sheet._charts) == len(shown) > 5
    marked = set()
    for chart in sheet._charts:
        bars = [series.errBars for series in chart.series]
        assert all(bar.errValType == "cust" and bar.plus.numRef.f != bar.minus.numRef.f for bar in bars)
        low, high = chart.y_axis.scaling.min, chart.y_axis.scaling.max
        places = [("up", bars[0].plus), ("down", bars[0].minus), ("level", chart.series[0].cat)]
        places += [(series.marker.symbol, series.val) for series in chart.series]
        cells = {
            name: [cell.value for [cell] in sheet[where.numRef.f.split("!")[1].replace("$", "")]] for name, where in places
        }
        drawn = [cells[symbol] for symbol in ("circle", "diamond") if symbol in cells]
        points = [next(value for value in values if value is not None) for values in zip(*drawn, strict=True)]
        assert points == sorted(points, reverse=True)
        ends = zip(points, cells["up"], cells["down"], strict=True)
        assert all(low <= point - down and point + up <= high for point, up, down in ends)
        beyond = cells.get("diamond", [None] * len(points))
        marked |= {level for level, value in zip(cells["level"], beyond, strict=True) if value is not None}
    assert {facts.LEAKING_TANK, facts.HIGH_DIPSTICK, facts.HOP_HUNGRY_BEER} <= marked


def test_the_states_returns_were_filed_as_the_records_give_them_but_for_maines_february(
    sample: duckdb.DuckDBPyConnection,
) -> None:
    """Twenty gallons forgotten, at Maine's 35 cents (28-A M.R.S. 1652): $7.00 go on the return of March."""
    found = rows(sample, "select area, period, next_period, difference, rate, direction from excise.adjustments")
    assert found == [{"area": "US-ME", "period": "2026-02", "next_period": "2026-03", "difference": Decimal("7.00"),
                      "rate": Decimal("0.35"), "direction": "increasing"}]  # fmt: skip
    # A shortage of packaged beer is explained where it was counted; one in March is not yet.
    checks = rows(sample, "select check_no, period, form_column from excise.operation_checks where not holds order by all")
    assert [tuple(row.values()) for row in checks] == [(10, period, "bottling case") for period in ("2026-03", "2026-Q1")]


def test_what_the_weighed_cases_held_and_what_was_spilt_are_the_loss_of_packaging(sample: duckdb.DuckDBPyConnection) -> None:
    found = rows(sample, """
        select fills.*, losses.loss_bbl as stage_loss_bbl
        from result.fills as fills
        join result.stage_losses as losses using (run, line)
    """)  # fmt: skip
    weighed = one(sample, "select count(*) from record.packaging where average_fill_bbl is not null")
    assert len(found) == weighed > 40 and {row["package"] for row in found} == {"case_24x16"}
    read = [row for row in found if row["spill_bbl"] is not None]
    assert len(found) > len(read) > 30
    assert all(row["overfill_bbl"] + row["spill_bbl"] == row["stage_loss_bbl"] for row in read)
    # The filler of the scenario gives 16.08 fl oz into a can of 16, with a spread of 0.04 (sample_brewery_cellar).
    over = sum(row["over_pct"] for row in found) / len(found)
    assert abs(over - Decimal("0.5")) < 4 * Decimal("0.25") / Decimal(len(found)).sqrt()
