"""What an area file says is applied, or the file is refused with its name, the key, what stands there and what was expected."""

from __future__ import annotations

import re
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


def a_rate(**keys: str) -> dict[str, str]:
    """A second rate, for bottles, that says these keys besides."""
    said = {"start": "2000-01-01", "rate": "1"} | {key: value for key, value in keys.items() if key in ("start", "rate")}
    more = [f"{key} = {value}" for key, value in keys.items() if key not in said]
    return {"more": 'forms = ["keg", "bulk"]\n' + A_RATE.format(**said, more="\n".join(['forms = ["bottled"]', *more]))}


def a_relief(old: str, new: str) -> dict[str, str]:
    assert old in HALF
    return {"more": HALF.replace(old, new, 1).format(up_to=100, more="")}


def a_due(rule: str) -> dict[str, str]:
    return {"more": f'[[periods]]\nlength = "annual"\nsource = "a source"\ndue = {{ {rule} }}'}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"rate": "nan"}, "rates[1].rate is NaN; expected a number from 0 to 10000000"),
        ({"rate": "inf"}, "rates[1].rate is Infinity; expected a number"),
        ({"rate": "1e30"}, "rates[1].rate is 1E+30; expected a number"),
        ({"rate": "1e11"}, "rates[1].rate is 1E+11; expected a number"),
        ({"rate": "-0.35"}, "rates[1].rate is -0.35; expected a number from 0"),
        ({"rate": "0.19354839"}, "rates[1].rate is 0.19354839; expected a number from 0 to 10000000 with at most 6 decimals"),
        ({"rate": "true"}, "rates[1].rate is True; expected a number"),
        (a_rate(per="0"), "rates[2].per is 0; expected a number from 0.001"),
        (a_rate(alcohol_above="101"), "rates[2].alcohol_above is 101; expected a number from 0 to 100"),
        (a_rate(container_over="1e12"), "rates[2].container_over is 1E+12; expected a number"),
        (a_rate(abv_over="nan"), "rates[2].abv_over is NaN; expected a number from 0 to 100"),
        (a_rate(start="2000-01-01T08:00:00"), "rates[2].from is 2000-01-01 08:00:00; expected a date such as 2026-03-14"),
        (a_rate(start="0001-01-01"), "rates[2].from is 0001-01-01; expected a date such as 2026-03-14"),
        (a_rate(to="1999-12-31"), "rates[2].to is 1999-12-31, before 2000-01-01"),
        (a_relief("percent = 50", "percent = 150"), "reliefs[1].percent is 150; expected a number from 0 to 100"),
        (a_relief("production_over = 0", "production_over = 100"), "reliefs[1].production_up_to is 100; expected more than"),
        (a_relief("source", "to = 1990-01-01\nsource"), "reliefs[1].to is 1990-01-01, before 2000-01-01"),
        (a_due("days_after = -40"), "periods[2].due.days_after is -40; expected a whole number from 0 to 366"),
        (a_due("days_after = 5000000"), "periods[2].due.days_after is 5000000; expected a whole number"),
        (a_due("working_day = 0"), "periods[2].due.working_day is 0; expected a whole number from 1 to 20"),
        (a_due("working_day = 99"), "periods[2].due.working_day is 99; expected a whole number from 1 to 20"),
        (a_due("day = 31"), "periods[2].due.day is 31; expected a whole number from 1 to 28"),
        ({"top": "claim_months = inf"}, "claim_months is Infinity; expected a number from 0"),
        ({"top": 'payer_source = "a\\u0001b"'}, "payer_source is 'a\\x01b'; expected text without control characters"),
    ],
)
def test_a_figure_date_or_text_that_cannot_be_is_refused(tmp_path: Path, change: dict[str, str], said: str) -> None:
    with pytest.raises(areas.AreaError) as refusal:
        own(tmp_path, **change)
    assert str(refusal.value).startswith("areas/XX.toml") and said in str(refusal.value)


def test_the_last_day_there_is_means_no_end(tmp_path: Path) -> None:
    area = own(tmp_path, more="to = 9999-12-31\n" + HALF.format(up_to=100, more="to = 9999-12-31"))
    assert (area.rates[0].to_date, area.reliefs[0].to_date) == (None, None)


def test_area_files_are_found_whatever_the_case_of_their_ending_and_other_files_are_refused(tmp_path: Path) -> None:
    own(tmp_path)
    folder = tmp_path / "areas"
    (folder / ".DS_Store").write_bytes(b"\0")
    text = (folder / "XX.toml").read_text(encoding="utf-8").replace('"XX"', '"YY"')
    (folder / "YY.TOML").write_text(text, encoding="utf-8-sig")  # and with the byte order mark that some editors write
    assert set(areas.of_brewery(tmp_path)) == {"XX", "YY"}
    (folder / "US-ME.toml.txt").write_text(text, encoding="utf-8")
    with pytest.raises(areas.AreaError, match=r"areas/US-ME.toml.txt is not read; expected area files such as US-ME.toml"):
        areas.load(tmp_path)


def test_every_key_that_is_read_stands_in_the_table_of_the_format() -> None:
    read = Path(areas.__file__).read_text(encoding="utf-8")
    keys = set(re.findall(r"\.(?:text|number|whole|day|flag|names|take|tables?)\(\"(\w+)\"", read))
    for loop in re.findall(r"for key in \(([^)]*)\)", read):
        keys |= set(re.findall(r"\w+", loop))
    assert len(keys) > 60
    told = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = told[told.index("#### The format of an area file"):told.index("### Add a report")]
    assert {key for key in keys if not re.search(rf"\b{key}\b", told)} == set()
