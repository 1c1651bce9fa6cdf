"""What weighed packages held: overfill and spill (C15), worked by hand. All books are invented."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from small_books import REFERENCE, books, codes, failed_controls, rows

D = Decimal
CANS = {"package": "cans", "form": "bottled", "containers": 24, "container_volume": 12, "volume_unit": "floz"}
BREW = {"brew": "W1", "date": "2026-01-01", "site": "main", "beer": "Test Ale", "lot": "A", "vessel": "F1",
        "end_of_boil": 31, "into_fermenter": 30}  # fmt: skip
MALT = {"site": "main", "material": "malt", "quantity": 1000, "unit": "lb"}


def line(number: int, package: str, filled: int, fill: str, unit: str, **more: Any) -> dict[str, Any]:
    return {"run": "R1", "line": number, "date": "2026-01-09", "site": "main", "lot": "A", "package": package,
            "filled": filled, "average_fill": fill, "fill_unit": unit} | more  # fmt: skip


def filled(*lines: dict[str, Any]) -> Any:
    return books(REFERENCE | {
        "packages": [CANS], "brews": [BREW], "opening_materials": [MALT | {"cost": 1000}],
        "uses": [MALT | {"date": "2026-01-01", "brew": "W1"}], "packaging": lines,
    })  # fmt: skip


def test_overfill_and_spill_are_the_loss_of_the_line() -> None:
    # By hand: a barrel is 3,968 fl oz or 31 gal (26 U.S.C. 5051(a)(1)(B), NIST Handbook 44). 124 cases of 288 fl oz are 9 bbl
    # and at 12.15 hold 9.1125; 62 are 4.5 and at 11.9 hold 4.4625; 31 kegs of 15.6 gal hold 15.6. A can of 12 is 12, exactly.
    con = filled(
        line(1, "cans", 124, "12.15", "floz", volume_drawn="9.4"),
        line(2, "cans", 124, "12.15", "floz", rejected=31),
        line(3, "half_bbl", 31, "15.6", "gal", volume_drawn="15.7"),
        line(4, "cans", 62, "11.9", "floz", volume_drawn="4.6"),
        line(5, "cans", 1000, "12", "floz", volume_drawn="73"),
        line(6, "cans", 10, "", "", volume_drawn="1"),
    )
    names = "line, nominal_bbl, held_bbl, over_pct, overfill_bbl, loss_bbl, spill_bbl"
    assert con.execute(f"select {names} from result.fills order by line").fetchall() == [
        (1, D("9"), D("9.1125"), D("1.25"), D("0.1125"), D("0.4"), D("0.2875")),
        # Drawn was counted (V4): the loss is the 31 cases rejected, and what overfilled left the tank unseen.
        (2, D("9"), D("9.1125"), D("1.25"), D("0.1125"), D("2.25"), None),
        (3, D("15.5"), D("15.6"), D("0.645161"), D("0.1"), D("0.2"), D("0.1")),
        (4, D("4.5"), D("4.4625"), D("-0.833333"), D("-0.0375"), D("0.1"), D("0.1375")),
        (5, D("72.580645"), D("72.580645"), 0, 0, D("0.419355"), D("0.419355")),
    ]
    losses = {row["line"]: row for row in rows(con, "from result.stage_losses where stage = 'packaging'")}
    for fill in rows(con, "from result.fills"):
        loss = losses[fill["line"]]
        assert loss["loss_bbl"] == fill["loss_bbl"]
        assert fill["reading_error_bbl"] == (None if fill["line"] == 2 else loss["reading_error_bbl"])
        assert float(fill["overfill_cost"]) == pytest.approx(
            float(loss["loss_cost"] * fill["overfill_bbl"] / loss["loss_bbl"]), abs=2e-6)  # fmt: skip
    assert not failed_controls(con)


def test_overfill_costs_what_a_barrel_drawn_cost() -> None:
    # By hand: of 30 bbl brewed for 1,000, 4 % are allowed to stay behind (the default): 1,000 / 28.8 a barrel.
    [fill] = rows(filled(line(1, "cans", 124, "12.15", "floz", volume_drawn="9.4")), "from result.fills")
    assert fill["overfill_cost"] == D("3.906250")


def test_the_sheet_speaks_the_unit_of_the_package_and_says_where_spill_is_not_known() -> None:
    con = filled(
        line(1, "cans", 124, "12.15", "floz", volume_drawn="10"),
        line(2, "cans", 62, "358.5", "mL"),
        line(3, "sixth_bbl", 3, "20", "L", volume_drawn="0.51"),
    )
    names = "unit, nominal_fill, average_fill, verdict"
    assert con.execute(f"select {names} from report.fills order by line").fetchall() == [
        ("fl oz", D("12"), D("12.15"), "real"),
        # 358.5 mL of 29.5735295625 mL a fl oz, 20 L of 3.785411784 L a gal (NIST Handbook 44, appendix C).
        ("fl oz", D("12"), D("12.122327"), "drawn not read"),
        ("gal", D("5.166667"), D("5.283441"), "within reading error"),
    ]
    cans, kegs = rows(con, "from report.fills_by_package order by package")
    # Of 186 cases two thirds at 12.15; 0.1125 and 0.045873 bbl over on 13.5; 31 of 365 days.
    assert (cans["runs_count"], cans["average_fill"], cans["over_pct"]) == (2, D("12.140776"), D("1.173133"))
    assert (cans["overfill_bbl"], cans["spill_bbl"]) == (D("0.158373"), D("0.8875"))
    assert float(cans["year_half_barrels"]) == pytest.approx(2 * 0.158373 * 365 / 31, abs=1e-6)
    assert kegs["overfill_bbl"] == D("0.011301")


@pytest.mark.parametrize(("package", "fill", "unit", "found"), [
    ("cans", "12.1", "", ["fill-unlike-package"]),  # fill_unit forgotten, so barrels
    ("cans", "13.8", "floz", []),
    ("cans", "13.81", "floz", ["fill-unlike-package"]),
    ("cans", "10.19", "floz", ["fill-unlike-package"]),
    ("half_bbl", "15.9", "gal", ["overfilled-keg"]),  # 27 CFR 25.156(b)
    ("half_bbl", "15.5", "", ["fill-unlike-package"]),
])  # fmt: skip
def test_a_fill_far_from_its_container_is_a_warning_and_told_once(package: str, fill: str, unit: str, found: list[str]) -> None:
    con = filled(line(1, package, 10, fill, unit, volume_drawn="5.1" if package == "half_bbl" else "0.8"))
    assert codes(con, "warning") == found
    assert bool(rows(con, "from result.fills")) == ("fill-unlike-package" not in found)
