"""What a brewer may write down besides: hops in the tank, the yeast's generation, strike water. All books are invented."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import duckdb
import pytest
from small_books import REFERENCE, books, codes, failed_controls, one, rows
from test_volume_and_cost_cases import brew, malt, move, use

D = Decimal
HOPS = {"material": "pellets", "kind": "hops", "stock_unit": "oz"}
PLACE = {"site": "main", "working_volume": "2000", "reading_tolerance": "0.1"}
TANKS = [{"vessel": "F1", "kind": "fermenter"} | PLACE, {"vessel": "B1", "kind": "bright_tank"} | PLACE]
STANDARD = {"beer": "Test Ale", "stage": "fermenter", "allowed_loss_pct": 5}
BY_HOPS = STANDARD | {"loss_bbl_per_lb_hops": "0.04"}


def hopped(*standards: dict[str, Any]) -> duckdb.DuckDBPyConnection:
    """20 bbl into F1; 10 drawn before 10 lb of hops go in, 8.1 after; half a pound went into the kettle."""
    return books(REFERENCE | {
        "materials": [*REFERENCE["materials"], HOPS],
        "vessels": TANKS,
        "standards": list(standards),
        "opening_materials": [*malt(), {"site": "main", "material": "pellets", "quantity": 160, "unit": "oz", "cost": 140}],
        "brews": [brew(1, "A")],
        "uses": [
            use(1, 1000, brew="W01A"),
            use(3, 4, lot="A") | {"material": "pellets"},
            use(4, 96, lot="A") | {"material": "pellets", "unit": "oz"},
        ],
        "moves": [move(2, "A", "X", 10), move(5, "A", "Y", 8.1, lot_emptied="yes")],
    })  # fmt: skip


def fermenter(con: duckdb.DuckDBPyConnection) -> dict[str, Any]:
    return rows(con, "select * from result.stage_losses where stage = 'fermenter'")[0]


def test_hops_in_the_tank_add_to_what_the_lot_may_lose() -> None:
    # By hand: 5 % of 20 bbl and 10 lb at 0.04 bbl a pound; three readings of 0.1 bbl.
    con = hopped(BY_HOPS)
    found = fermenter(con)
    assert (found["hops_lb"], found["hop_allowed_bbl"], found["allowed_bbl"]) == (10, D("0.4"), D("1.4"))
    assert (found["loss_bbl"], found["abnormal_bbl"], found["reading_error_bbl"]) == (D("1.9"), D("0.5"), D("0.173205"))
    # Day 2 is before the hops: 10 of 19 take 10/19 of 1000. Day 5: 8.1 of 20 - 1 - 0.4 - 10 take theirs of the rest and 140.
    costs = rows(con, "select name, taken from cost.draw_costs order by name")
    assert [row["taken"] for row in costs] == [D("526.315789"), D("578.004896")]
    assert found["abnormal_cost"] == D("35.679315")
    assert not failed_controls(con)


def test_the_loss_stands_beside_the_hops_that_hold_it() -> None:
    # By hand: 1.9 bbl less 5 % of 20: 0.9 bbl or 27.9 gal on 10 lb; a gallon a pound is 8.345 L a kg (NIST Handbook 44).
    found = rows(hopped(BY_HOPS), "from report.hop_losses")[0]
    assert (found["hop_loss_bbl"], found["hop_loss_gal_per_lb"]) == (D("0.9"), D("2.79"))
    assert found["allowed_gal_per_lb"] == D("1.24")
    assert float(found["hop_loss_l_per_kg"]) == pytest.approx(2.79 * 8.345, rel=1e-3)
    assert found["verdict"] == "MORE than allowed"


def test_without_such_a_standard_hops_allow_nothing() -> None:
    found = fermenter(hopped(STANDARD))
    assert (found["hops_lb"], found["hop_allowed_bbl"], found["allowed_bbl"], found["abnormal_bbl"]) == (10, 0, 1, D("0.9"))


def test_the_row_of_the_beer_rules_whole() -> None:
    every_beer = {"beer": "*", "stage": "fermenter", "allowed_loss_pct": 2, "loss_bbl_per_lb_hops": "0.05"}
    assert fermenter(hopped(every_beer))["allowed_bbl"] == D("0.9")
    assert fermenter(hopped(every_beer, STANDARD))["allowed_bbl"] == 1


def test_hops_allow_nothing_at_a_stage_where_none_lie() -> None:
    con = hopped(BY_HOPS | {"stage": "transfer"})
    assert codes(con).count("wrong-combination") == 1
    assert one(con, "select field from result.problems where code = 'wrong-combination'") == "loss_bbl_per_lb_hops"


def pitched(day: int, lot: str, generation: int | str) -> dict[str, Any]:
    return use(day, 20, brew=f"W{day:02d}{lot}") | {"material": "ale yeast", "generation": str(generation)}


def gravity(day: int, lot: str, plato: float) -> dict[str, Any]:
    return {"date": f"2026-01-{day:02d}", "site": "main", "lot": lot, "gravity": plato}


def yeasted(**more: list[dict[str, Any]]) -> duckdb.DuckDBPyConnection:
    """Two lots of 12 degrees Plato: yeast of generation 1 and of generation 4."""
    return books(REFERENCE | {
        "materials": [*REFERENCE["materials"], {"material": "ale yeast", "kind": "yeast", "stock_unit": "lb"}],
        "opening_materials": [*malt(), {"site": "main", "material": "ale yeast", "quantity": 90, "unit": "lb", "cost": 9}],
        "brews": [brew(1, "A", original_gravity=12), brew(2, "B", original_gravity=12)],
        "uses": [pitched(1, "A", 1), pitched(2, "B", 4)],
        "readings": [gravity(3, "A", 6), gravity(6, "A", 3.1), gravity(8, "A", 3),
                     gravity(6, "B", 6), gravity(10, "B", 4.2), gravity(11, "B", 3.6)],
        "moves": [move(9, "A", "X", 19, lot_emptied="yes"), move(12, "B", "Y", 19, lot_emptied="yes")],
    } | more)  # fmt: skip


def test_yeast_is_compared_by_its_generation() -> None:
    # By hand: (12 - 3) / 12 after 5 days, the first reading within 0.2 of 3; (12 - 3.6) / 12 after 9.
    found = rows(yeasted(), "from report.yeast_generations order by generation")
    figures = [(row["generation"], row["attenuation_pct"], row["fermentation_days"], row["longest_days"]) for row in found]
    assert figures == [(1, 75, 5, 5), (4, 70, 9, 9)]


def test_a_strength_that_was_not_read_is_not_nought() -> None:
    con = yeasted(brews=[brew(1, "A"), brew(2, "B", original_gravity=12)])
    found = {row["brew"]: row for row in rows(con, "from result.brew_strengths")}
    assert (found["W01A"]["abv_pct"], found["W01A"]["off_declared_pct"]) == (None, None)
    assert found["W02B"]["off_declared_pct"] == found["W02B"]["abv_pct"] - 5


def test_a_gravity_stands_beside_the_same_beer_s_earlier_lots_at_that_age() -> None:
    # By hand: B on its eighth day at 4.2 beside A's 3 on its seventh; A's fifth day was no earlier day than B's fourth.
    found = rows(yeasted(), "select lot, age_days, usual_plato, gap_plato from report.lot_gravities order by lot, age_days")
    assert [tuple(row.values())[1:] for row in found if row["lot"] == "B"] == [
        (4, None, None), (8, D("3"), D("1.2")), (9, None, None),
    ]  # fmt: skip
    assert {row["usual_plato"] for row in found if row["lot"] == "A"} == {None}


def test_the_page_of_a_lot_says_which_yeast_was_pitched() -> None:
    said = rows(yeasted(), "select what, remark from report.lot_pages where lot = 'B' and what like 'ale yeast%'")
    assert said == [{"what": "ale yeast 20 lb, brew W02B", "remark": "generation 4"}]
    assert one(yeasted(), "select yeast from report.lot_heads where lot = 'A'") == "ale yeast, generation 1"


@pytest.mark.parametrize(("field", "given", "code"), [("material", "malt", "not-yeast"), ("generation", "-1", "negative"),
                                                      ("generation", "1.5", "not-whole")])  # fmt: skip
def test_a_generation_is_a_whole_number_beside_yeast(field: str, given: str, code: str) -> None:
    con = yeasted(uses=[pitched(1, "A", 1) | {field: given}])
    found = rows(con, "select code, field from result.problems where file = 'uses.csv' and code <> 'material-short'")
    assert found == [{"code": code, "field": "generation"}]


def test_the_page_of_a_lot_is_its_paper_log_in_order() -> None:
    packed = {"run": "R1", "date": "2026-01-11", "site": "main", "lot": "X", "package": "half_bbl", "filled": 36, "rejected": 1,
              "volume_drawn": 18.8, "lot_emptied": "yes"}  # fmt: skip
    con = yeasted(packaging=[packed], readings=[gravity(3, "A", 6), gravity(8, "A", 3) | {"volume": 20}])
    said = "select day, what, plato, recorded_bbl from report.lot_pages where lot = ? order by date, sort, what"
    assert [tuple(row.values()) for row in rows(con, said, ["A"])] == [
        (0, "brew W01A, end of boil", None, 21), (0, "brew W01A, into the fermenter", None, 20),
        (0, "ale yeast 20 lb, brew W01A", None, None), (2, "gravity", 6, None), (7, "dip", None, 20), (7, "gravity", 3, None),
        (8, "move M09AX, out to B1, lot X", None, 19), (8, "move M09AX, in", None, 19),
    ]  # fmt: skip
    assert [row["what"] for row in rows(con, said, ["X"])] == [
        "move M09AX, out of F1, lot A", "move M09AX, in", "run R1 line 1, drawn",
        "run R1 line 1, packages: 36 half_bbl, 1 rejected",
    ]  # fmt: skip
    # By hand: (12 - 3) / 12; 20 in, 19 out; where no gravity was read the barrels of each day stand instead.
    head = rows(con, "from report.lot_heads where lot = 'A'")[0]
    assert (head["days"], head["attenuation_pct"], head["loss_bbl"], head["went_to"]) == (8, 75, 1, "B1 as X")
    assert [row["day"] for row in rows(con, "from report.lot_curves where lot = 'A' order by day")] == [0, 2, 7]
    assert [row["in_hand_bbl"] for row in rows(con, "from report.lot_cards order by lot, date") if row["lot"] == "X"] == [
        19, D("0.2"),
    ]  # fmt: skip


def test_the_cellar_is_shown_on_the_day_its_paper_ends() -> None:
    tanks = rows(yeasted(), "from report.tanks_today where lot is not null order by lot")
    assert {row["as_of"] for row in tanks} == {
        "On 2026-01-12, the last day on which something was written down in the cellar",
    }  # fmt: skip
    assert [(row["lot"], row["day_number"]) for row in tanks] == [("X", 3), ("Y", 0)]
    later = [gravity(3, "A", 6), {"date": "2026-02-02", "site": "main", "lot": "X", "gravity": 3}]
    days = rows(yeasted(readings=later), "select month, day from report.cellar_days order by month")
    assert [f"{row['day']}" for row in days] == ["2026-01-31", "2026-02-02"]
