"""What an area file says is applied, or the file is refused with its name, the key, what stands there and what was expected."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pytest
from excise_area_case import case, own
from excise_case import books, package, problems, ship

from brewcost import areas

HALF = """
[[reliefs]]
kind = "percent"
percent = 50
from = 2000-01-01
production_over = 0
production_up_to = {up_to}
source = "a source"
{more}
"""


def small_producer(folder: Path, condition: str, production: int = 80, **more: Any) -> Any:
    """Ten kegs of a gallon at 1 a gallon by a brewery of so many barrels last year; half is asked up to 100 of them."""
    own(folder, more=HALF.format(up_to=100, more=condition), top="relief_until = 200")
    return case("XX", 10, "1", "gal", folder=folder, currency="USD", filer={"annual_production": Decimal(production)}, **more)


@pytest.mark.parametrize(
    ("condition", "falls"),
    [
        ("", True),
        ('forms = ["bottled"]', False),
        ('purposes = ["sale"]', True),
        ('purposes = ["tavern"]', False),
        ('account_kinds = ["retailer"]', True),
        ('account_kinds = ["wholesaler"]', False),
        ('brewed_by = ["us"]', True),
        ('brewed_by = ["other"]', False),
        ("container_over = 4000", False),
        ("abv_below = 5", False),
    ],
)
def test_a_relief_falls_on_what_its_conditions_say(tmp_path: Path, condition: str, falls: bool) -> None:
    con = small_producer(tmp_path, condition)
    assert con.execute("select amount from excise.duty").fetchall() == [(5 if falls else 10,)]
    # With a production beyond the steps that are known, what it does not fall on is not missed.
    beyond = small_producer(tmp_path, condition, production=150)
    assert beyond.execute("select amount from excise.duty").fetchall() == [(10,)]
    assert ("no-relief-step" in problems(beyond)) == falls


@pytest.mark.parametrize(
    ("first", "second", "overlap"),
    [
        ("", "", True),
        ("to = 2010-12-31", "", True),
        ('producer = "small"', "", True),
        ('producer = "small"', 'producer = "other"', False),
        ('purposes = ["sale", "tavern"]', 'purposes = ["tavern"]', True),
        ('purposes = ["sale"]', 'purposes = ["tavern"]', False),
        ('purposes = ["sale"]', 'forms = ["keg"]', True),
        ("abv_up_to = 5", "abv_over = 5", False),
        ("abv_up_to = 5", "abv_from = 5", True),
        ("abv_below = 5", "abv_from = 5", False),
        ("container_up_to = 500", "container_over = 400", True),
    ],
)
def test_two_reliefs_for_one_beer_are_refused(tmp_path: Path, first: str, second: str, overlap: bool) -> None:
    both = HALF.format(up_to=100, more=first) + HALF.format(up_to=60, more=second)
    if overlap:
        with pytest.raises(areas.AreaError, match=r"areas/XX.toml: reliefs\[2\] overlaps reliefs\[1\]"):
            own(tmp_path, more=both)
    else:
        assert len(own(tmp_path, more=both).reliefs) == 2


def test_the_steps_of_a_relief_do_not_overlap(tmp_path: Path) -> None:
    """One begins where the one before it ends, and a step that ends lets the next one begin."""
    steps = HALF.format(up_to=100, more="to = 2010-12-31") + HALF.format(up_to=200, more="").replace("over = 0", "over = 100")
    assert len(own(tmp_path, more=steps + HALF.format(up_to=100, more="").replace("2000", "2011")).reliefs) == 3


A_RATE = """
[[rates]]
from = {start}
rate = {rate}
source = "a source"
checked = 2026-11-25
{more}
"""


def lines_of(con: duckdb.DuckDBPyConnection) -> list[tuple[str, Decimal]]:
    """The lines of the one return, whose key and whose words both tell them apart."""
    for key in ("rate_id, degree, relief, adjustment", "band"):
        assert con.execute(f"select count(distinct ({key})) = count(*) from excise.duty").fetchall() == [(True,)]
    total = con.execute("select sum(amount) from excise.removal_duty").fetchall()
    found = con.execute("select band, amount from excise.duty order by amount, band").fetchall()
    assert total == [(sum(amount for _, amount in found),)]
    return found


def test_two_rates_of_one_name_are_two_lines_of_a_return(tmp_path: Path) -> None:
    """Kegs at 1 a gallon, bottles at 2, both without a name; and the rate of kegs changes inside the month."""
    rates = A_RATE.format(start="2000-01-01", rate=2, more='forms = ["bottled", "bulk"]') + A_RATE.format(
        start="2026-12-11", rate=4, more='forms = ["keg"]'
    )
    own(tmp_path, more='forms = ["keg"]\nto = 2026-12-10' + rates)
    shipments = [ship(date(2026, 12, day), name, 1, f"S{day}{name}") for day, name in ((5, "k"), (6, "b"), (12, "k"))]
    con = books(
        {"packages": [package("k", "keg", 10, "gal"), package("b", "bottled", 10, "gal")], "shipments": shipments},
        sites={"main": "XX"}, folder=tmp_path,
    )  # fmt: skip
    assert lines_of(con) == [
        ("all, rate from 2000-01-01, forms: keg", 10),
        ("all, rate from 2000-01-01, forms: bottled, bulk", 20),
        ("all, rate from 2026-12-11, forms: keg", 40),
    ]


def test_each_degree_is_a_line_of_a_return_whole_or_not(tmp_path: Path) -> None:
    own(tmp_path, basis="hL_plato")
    platos = map(Decimal, ("12.2", "12.4", "10"))
    beers = [{"beer": f"Beer {n}", "abv_pct": 5, "original_plato": plato} for n, plato in enumerate(platos)]
    con = books(
        {"beers": beers, "packages": [package("k", "keg", 100, "L")],
         "shipments": [ship(date(2026, 12, 5), "k", 1, f"S{n}", beer=f"Beer {n}") for n in range(3)]},
        sites={"main": "XX"}, folder=tmp_path,
    )  # fmt: skip
    assert lines_of(con) == [("all, 10 °P", 10), ("all, 12.2 °P", Decimal("12.2")), ("all, 12.4 °P", Decimal("12.4"))]


def test_a_relief_that_changes_inside_a_return_is_two_lines_of_it(tmp_path: Path) -> None:
    reliefs = HALF.format(up_to=100, more="to = 2026-12-10") + HALF.format(up_to=100, more="").replace("2000", "2026").replace(
        "-01-01", "-12-11").replace("percent = 50", "percent = 80")  # fmt: skip
    own(tmp_path, more=reliefs)
    con = books(
        {"packages": [package("k", "keg", 10, "gal")],
         "shipments": [ship(date(2026, 12, day), "k", 1, f"S{day}") for day in (5, 12)]},
        sites={"main": "XX"}, filers=[{"area": "XX", "annual_production": 80}], folder=tmp_path,
    )  # fmt: skip
    assert lines_of(con) == [
        ("all, small producer, relief from 2000-01-01", 5), ("all, small producer, relief from 2026-12-11", 8),
    ]  # fmt: skip
