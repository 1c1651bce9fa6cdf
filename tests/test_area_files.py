"""What an area file says is applied, or the file is refused with its name, the key, what stands there and what was expected."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from excise_area_case import case, own
from excise_case import problems

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
