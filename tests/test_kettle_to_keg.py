"""Each brew from kettle to keg by volume share (V8, V8a): nothing is lost on the way, nothing comes in twice."""

from __future__ import annotations

from decimal import Decimal
from random import Random

import pytest
from generated_brewery import Brewery
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_books import REFERENCE, books, failed_controls, one, rows

COLUMNS = (
    "fermenter_loss_bbl", "transfer_loss_bbl", "bright_tank_loss_bbl", "packaging_loss_bbl", "sample_bbl", "destroyed_bbl",
    "serving_tank_bbl", "packaged_bbl", "in_cellar_bbl",
)  # fmt: skip
Row = dict[str, object]


def brew(name: str, lot: str, day: int, end: float | None, into: float) -> Row:
    row: Row = {"brew": name, "date": f"2026-01-{day:02d}", "site": "main", "beer": "Test Ale", "lot": lot, "vessel": "F1",
                "into_fermenter": into}  # fmt: skip
    return row | ({} if end is None else {"end_of_boil": end})


def move(name: str, day: int, lot: str, to: str, out: float, into: float, emptied: bool = False) -> Row:
    row: Row = {"move": name, "date": f"2026-01-{day:02d}", "site": "main", "from_lot": lot, "to_lot": to, "to_vessel": "B1",
                "volume_out": out, "volume_in": into, "reason": "transfer"}  # fmt: skip
    return row | ({"lot_emptied": "yes"} if emptied else {})


def run(name: str, day: int, lot: str, filled: int, drawn: float, emptied: bool = False) -> Row:
    return {"run": name, "date": f"2026-01-{day:02d}", "site": "main", "lot": lot, "package": "half_bbl", "filled": filled,
            "volume_drawn": drawn} | ({"lot_emptied": "yes"} if emptied else {})  # fmt: skip


def of(con: object, name: str) -> dict[str, Decimal]:
    return rows(con, "select * from result.kettle_to_keg where brew = ?", [name])[0]  # type: ignore[arg-type]


def test_a_blend_is_shared_by_volume_and_beer_still_in_the_cellar_is_no_loss() -> None:
    # By hand: 30 of B1 and 10 of B2 make 40; 3/4 of each of 36 drawn, 4 in hand.
    con = books(REFERENCE | {
        "brews": [brew("B1", "L1", 1, 33, 30), brew("B2", "L1", 2, None, 10)],
        "moves": [move("M1", 5, "L1", "L2", 36, 32)],
        "packaging": [run("R1", 7, "L2", 60, 31, emptied=True)],
        "shipments": [{"document": "S1", "date": "2026-01-20", "site": "main", "account": "Test house", "beer": "Test Ale",
                       "package": "half_bbl", "units": 20, "purpose": "own_location", "unit_price": 1}],
    })  # fmt: skip
    first, second = of(con, "B1"), of(con, "B2")
    assert (first["end_of_boil_bbl"], first["kettle_loss_bbl"]) == (33, 3)
    assert (second["end_of_boil_bbl"], second["kettle_loss_bbl"]) == (None, None)
    expected = {"transfer_loss_bbl": 4, "bright_tank_loss_bbl": 1, "packaging_loss_bbl": 1, "packaged_bbl": 30,
                "in_cellar_bbl": 4, "shipped_bbl": 10, "fermenter_loss_bbl": 0}  # fmt: skip
    for name, whole in expected.items():
        assert first[name] == Decimal(whole) * 3 / 4, name
        assert second[name] == Decimal(whole) / 4, name


    # Three quarters of the transfer's loss are B1's, and of how far it may be off.
    parts = {(row["brew"], row["stage"]): row for row in rows(con, "from report.chain_losses")}
    error = one(con, "select reading_error_bbl from result.stage_losses where stage = 'transfer'")
    assert parts["B1", "transfer"]["bbl"] == 3
    assert parts["B1", "transfer"]["reading_error_bbl"] == pytest.approx(error * 3 / 4, abs=Decimal("1e-6"))
    chains = {row["level"]: row for row in rows(con, "from report.chains where month = '2026-01'")}
    brewed = chains["brew B1, Test Ale"]
    assert (brewed["kettle_bbl"], brewed["into_fermenter_bbl"]) == (33, 30)
    assert (brewed["drawn_bbl"], brewed["into_bright_bbl"]) == (27, 24)
    assert (brewed["lost_bbl"], brewed["half_barrels"], brewed["shipped_bbl"]) == (Decimal("7.5"), 15, Decimal("7.5"))
    assert (brewed["transfer_loss_pct"], brewed["lost_knockout_pct"]) == (Decimal("11.111111"), 25)
    # One fermenter took both brews: its loss is the whole loss, to the whole reading error.
    assert chains["F1"]["lost_bbl"] == chains["all beers"]["lost_bbl"] == 9
    whole = one(con, "select sqrt(sum(reading_error_bbl::double ** 2)) from result.stage_losses")
    assert float(chains["F1"]["reading_error_bbl"]) == pytest.approx(whole, abs=1e-5)


@pytest.mark.parametrize("dips", [[12.7], [4.6], [12.7, 4.6]])
def test_a_dip_may_be_taken_before_or_after_the_beer_of_its_day_leaves(dips: list[float]) -> None:
    con = books(REFERENCE | {
        "brews": [brew("B1", "L1", 1, 13.5, 13)],
        "moves": [move("M1", 8, "L1", "L2", 12.8, 12.7, emptied=True)],
        "packaging": [run("R1", 12, "L2", 16, 8.1)],
        "readings": [{"date": "2026-01-12", "site": "main", "lot": "L2", "volume": volume} for volume in dips],
    })  # fmt: skip
    # By the book 12.7 bbl before the run and 4.6 after it.
    assert {row["volume_bbl"]: row["after_draws"] for row in rows(con, "from volume.readings")} == {
        volume: volume < 8 for volume in map(Decimal, map(str, dips))
    }
    found = rows(con, "from report.reconciliation where lot = 'L2' and reading like 'dip of %'")
    assert len(found) == len(dips)
    assert [row["verdict"] for row in found] == ["fits"] * len(dips)


def test_a_reading_in_an_emptied_tank_is_of_no_lot() -> None:
    records = REFERENCE | {
        "brews": [brew("B1", "L1", 1, 13.5, 13) | {"original_gravity": 12}],
        "readings": [{"date": "2026-01-07", "site": "main", "lot": "L1", "gravity": 2.5}],
        "packaging": [run("R1", 12, "L1", 25, 12.6, emptied=True)],
    }
    late = {"date": "2026-01-20", "site": "main", "lot": "L1", "gravity": 1.1}
    strength = "select apparent_attenuation_pct from result.brew_strengths"
    as_read = one(books(records), strength)
    con = books(records | {"readings": [*records["readings"], late]})
    assert one(con, strength) == as_read == pytest.approx(Decimal(100) * (12 - Decimal("2.5")) / 12, abs=Decimal("1e-6"))
    assert [(row["severity"], row["row"]) for row in rows(con, "from result.problems where code = 'lot-emptied'")] == [
        ("warning", 3)
    ]


def test_no_alcohol_is_told_where_the_original_gravity_is_not_known() -> None:
    con = books(REFERENCE | {
        "brews": [brew("B1", "L1", 1, 13.5, 13)],
        "moves": [move("M1", 8, "L1", "L2", 12.8, 12.7, emptied=True)],
        "readings": [{"date": "2026-01-09", "site": "main", "lot": "L2", "gravity": 2.6}],
    })  # fmt: skip
    assert rows(con, "select last_plato, abv_pct from report.lot_heads where lot = 'L2'") == [
        {"last_plato": Decimal("2.6"), "abv_pct": None}
    ]


@pytest.mark.parametrize(("kettles", "expected"), [([None], "0.5"), (["0.15"], "0.15"), (["0.15", "0.2"], "0.5")])
def test_the_only_kettle_of_a_site_is_read_as_its_own_record_says(kettles: list[str | None], expected: str) -> None:
    """V7; two kettles: a brew does not say in which it was boiled, so the default of brewery.toml stands."""
    vessels = [*REFERENCE["vessels"], *({"vessel": f"K{n}", "site": "main", "kind": "kettle", "working_volume": 40,
                "reading_tolerance": tolerance or ""} for n, tolerance in enumerate(kettles))]  # fmt: skip
    con = books(REFERENCE | {"vessels": vessels, "brews": [brew("B1", "L1", 1, 13.5, 13)]},
                more="[reading_tolerance_bbl]\nkettle = 0.5\nfermenter = 0.2\n")
    assert one(con, "select reading_error_bbl from result.stage_losses") == pytest.approx(
        (Decimal(expected) ** 2 + Decimal("0.04")).sqrt(), abs=Decimal("1e-6"))


def test_an_opening_lot_is_a_source_of_its_own() -> None:
    con = books(REFERENCE | {
        "opening_lots": [{"lot": "L0", "site": "main", "beer": "Test Ale", "vessel": "B1", "volume": 30,
                          "cost_ingredients": 100}],
        "brews": [brew("B1", "L1", 1, None, 10)],
        "moves": [move("M1", 5, "L1", "L0", 10, 10, emptied=True)],
        "packaging": [run("R1", 7, "L0", 80, 40, emptied=True)],
    })  # fmt: skip
    assert of(con, "B1")["packaged_bbl"] == 10
    assert one(con, "select sum(bbl) from result.beer_fates where source = 'opening' and fate = 'packaged'") == 30


def test_beer_that_comes_back_to_a_lot_on_a_later_day_is_followed_and_adds_up() -> None:
    # By hand: 20 of L1's 40 go to L2 (10 there); 15 of L2's 30, two thirds of them B1's, come back to the 20 left.
    con = books(REFERENCE | {
        "brews": [brew("B1", "L1", 1, None, 40), brew("B2", "L2", 1, None, 10)],
        "moves": [move("M1", 3, "L1", "L2", 20, 20), move("M2", 5, "L2", "L1", 15, 15)],
        "packaging": [run("R1", 7, "L1", 70, 35, emptied=True), run("R2", 7, "L2", 30, 15, emptied=True)],
    })  # fmt: skip
    assert not failed_controls(con)
    fates = rows(con, "select name, lot, sum(bbl) as bbl from result.beer_fates where fate = 'packaged' group by all")
    assert {(row["name"], row["lot"]): row["bbl"] for row in fates} == {
        ("B1", "L1"): 30, ("B2", "L1"): 5, ("B1", "L2"): 10, ("B2", "L2"): 5,
    }  # fmt: skip


@pytest.mark.parametrize("emptied", [True, False])
def test_wort_that_was_never_there_and_beer_drawn_all_the_same_add_up(emptied: bool) -> None:
    con = books(REFERENCE | {"brews": [brew("B1", "L1", 1, 20, 0)], "packaging": [run("R1", 7, "L1", 4, 2.5, emptied)]})
    found = of(con, "B1")
    assert found["packaged_bbl"] == 2
    assert found["fermenter_loss_bbl"] == (Decimal("-2.5") if emptied else 0)
    assert not failed_controls(con)


@settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow], database=None)
@given(seed=st.integers(0, 10_000_000))
def test_every_brew_and_every_taking_adds_up_to_the_last_digit(seed: int) -> None:
    brewery = Brewery(Random(seed))
    con = books(brewery.records, **brewery.options)
    for found in rows(con, "from result.kettle_to_keg join volume.brews using (brew)"):
        start = found["end_of_boil_bbl"]
        begin = found["volume_out_bbl"] if start is None else start
        assert begin == sum(found[name] for name in COLUMNS) + (found["kettle_loss_bbl"] or 0)
        assert 0 <= found["shipped_bbl"] <= max(found["packaged_bbl"], 0) or found["packaged_bbl"] < 0
    assert one(con, "select count(*) from result.kettle_to_keg") == len(brewery.records["brews"])
    # The sources of each line of a run add up to its good packages.
    apart = rows(con, """
        select run, line, good_bbl, sum(bbl) as followed_bbl
        from volume.run_lines left join result.beer_fates using (run, line)
        where coalesce(fate, 'packaged') = 'packaged' group by all having followed_bbl is distinct from good_bbl
    """)
    assert not apart
    assert not [row for row in failed_controls(con) if row["control"] == "K11"]
    # Whatever they are told by, the wort and what became of it are the same, and add up.
    whole: dict[tuple[str, str], tuple[Decimal, ...]] = {}
    for found in rows(con, "from report.chains"):
        parts = tuple(found[name] for name in ("packaged_bbl", "elsewhere_bbl", "in_cellar_bbl", "lost_bbl"))
        assert found["kettle_bbl"] == sum(parts)
        stages = ("kettle", "fermenter", "transfer", "bright_tank", "packaging")
        assert found["lost_cost"] == sum(found[f"{stage}_loss_cost"] for stage in stages)
        assert found["half_barrels"] == sum(found[f"{stage}_loss_half_barrels"] for stage in stages)
        before = whole.get((found["month"], found["kind"]), (Decimal(0),) * 5)
        whole[found["month"], found["kind"]] = tuple(
            a + b for a, b in zip(before, (*parts, found["shipped_bbl"]), strict=True))  # fmt: skip
    assert all(figures == whole[month, "the brewery"] for (month, _), figures in whole.items())
