"""Duty of states, cities and other countries: the rows of check_values/areas.csv, run from records to duty."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from excise_area_case import case, own, tax
from excise_case import books, problems, ship

from brewcost import areas
from brewcost.areas_view import areas_command
from brewcost.due_dates import periods

ROWS = {
    int(row["n"]): row
    for row in csv.DictReader((Path(__file__).parent / "check_values" / "areas.csv").open(encoding="utf-8"))
}
BOTTLED: dict[str, Any] = {"form": "bottled"}
CASE: dict[str, Any] = {"form": "bottled", "containers": 24}
AK_SMALL = {"producer": "meets 26 U.S.C. 5051(a)(2)"}
WA_LOW = {"producer": "low rate (federal notice on file)"}
CANADA_REGULAR = {"producer": "regular rates only"}


def gb(units: int, litres: str, day: str, abv: str, **more: Any) -> Decimal:
    return tax("GB", units, litres, "L", day=date.fromisoformat(day), abv=abv, **more)


def spr(production: str, day: str, abv: str) -> Decimal:
    """The reduced rate a litre of alcohol of a small producer, not draught."""
    con = case("GB", 100, "1", "L", form="bottled", day=date.fromisoformat(day), abv=abv,
               filer={"annual_production": Decimal(production)})  # fmt: skip
    return Decimal(con.execute("select rate from excise.duty where quantity > 0").fetchall()[0][0])


def de(plato: str, hl: int = 1, **more: Any) -> Decimal:
    return tax("DE", hl, "100", "L", plato=plato, **more)


def canada(hl: int, day: date, **more: Any) -> Decimal:
    return tax("CA", hl, "100", "L", day=day, **more)


def ohio(gallons: str) -> Decimal:
    return tax("US-OH", 2, "15.5", "gal", filer={"producer": "A-1c or S-1 permit", "annual_production": Decimal(gallons)})


def quantity(area: str, *args: Any, **more: Any) -> Decimal:
    found = case(area, *args, **more).execute("select quantity from excise.duty where quantity > 0").fetchall()
    return Decimal(found[0][0])


# Row: what is asked, and what must come out (money of the area). Cents a container are asked of many containers.
CHECKS: dict[int, tuple[Callable[[], Any], Any]] = {
    1: (lambda: tax("US-NY", 100, "15.5", "gal"), "217.00"),
    2: (lambda: tax("US-NY-NYC", 100, "15.5", "gal"), "186.00"),
    3: (lambda: tax("US-NY", 1000, "12", "floz", **CASE), "315.00"),
    6: (lambda: tax("US-CA", 1, "31", "gal"), "6.20"),
    8: (lambda: tax("US-CA", 10000, "12", "floz", form="bottled", containers=50), "9374.40"),
    9: (lambda: [tax("US-PA", 1, *p) for p in (("50", "L"), ("31/6", "gal"), ("3.875", "gal"))], ["1.06", "0.42", "0.32"]),
    11: (lambda: tax("US-TX", 1000, "31", "gal"), "6000.00"),
    13: (lambda: tax("US-VA", 100, "64", "floz", **BOTTLED), "14.21"),
    14: (lambda: tax("US-VA", 10, "12", "floz", **CASE), "6.36"),
    15: (lambda: tax("US-VA", 500000, "6", "floz", **BOTTLED), "10000.00"),
    19: (
        lambda: [
            tax("US-OH", 100, "12", "floz", **CASE), tax("US-OH", 100, "16", "floz", **CASE), tax("US-OH", 1, "15.5", "gal")
        ],
        ["40.32", "60.48", "2.79"],
    ),
    18: (lambda: tax("US-OH", 100, "12.5", "floz", **BOTTLED), "2.52"),
    20: (lambda: [ohio("9300000"), ohio("9300001")], ["0", "5.58"]),
    21: (lambda: [tax("US-CT", 10, "15.5", "gal", day=date(2023, m, d)) for m, d in ((6, 30), (7, 1))], ["36.00", "30.00"]),
    22: (lambda: tax("US-CT", 1, "31/6", "gal"), "1.20"),
    24: (lambda: [tax("US-MO", 1000, "31", "gal", day=d) for d in (date(2025, 12, 1), date(2026, 1, 5))], ["1860", "620"]),
    25: (lambda: tax("US-MO", 100, "1", "gal"), "2.00"),
    28: (
        lambda: [tax("US-WA", 500, "31", "gal", filer=WA_LOW), tax("US-WA", 500, "31", "gal")],
        ["2391.00", "4040.00"],
    ),
    30: (lambda: tax("US-WA", 10, "31", "gal", abv="10.625", filer=WA_LOW), "80.80"),
    31: (lambda: tax("US-OR", 500, "31", "gal"), "1300.00"),
    32: (lambda: tax("US-TN", 100, "31", "gal"), "3989.00"),
    34: (lambda: tax("US-MN", 1000, "12", "floz", **CASE), "333.87"),
    36: (lambda: tax("US-WI", 60000, "31", "gal", filer={"producer": "under 300,000 bbl"}), "70000"),
    37: (
        lambda: [tax("US-AK", 100, "31", "gal", filer=AK_SMALL), tax("US-AK", 100, "31", "gal")],
        ["1085.00", "3317.00"],
    ),
    38: (lambda: tax("US-AK", 1, "15.5", "gal"), "16.59"),
    39: (lambda: [tax("US-HI", 1, "15.5", "gal"), tax("US-HI", 1, "31/6", "gal")], ["8.37", "4.81"]),
    41: (lambda: [tax("US-VT", 1000, "1", "gal", abv=a) for a in ("6.0", "6.1")], ["265.00", "550.00"]),
    42: (
        lambda: [tax("US-AR", 100, "31", "gal"), tax("US-AR", 100, "31", "gal", filer={"producer": "other"})],
        ["750.00", "750.78"],
    ),
    43: (
        lambda: [tax("US-AL", 1000, "12", "floz", **BOTTLED), tax("US-AL", 100, "16", "floz", **BOTTLED)],
        ["98.75", "16.50"],
    ),
    45: (lambda: tax("US-SC", 1000, "12", "floz", **CASE), "1728.00"),
    46: (lambda: tax("US-FL", 1, "12", "floz", **CASE), "1.44"),
    47: (lambda: tax("US-WY", 310, "1", "gal"), "5.89"),
    49: (lambda: tax("US-KY", 100, "31", "gal", filer={"producer": "brews in Kentucky"}), "125.00"),
    50: (lambda: tax("US-NC", 1, "15.5", "gal"), "9.57"),
    51: (lambda: quantity("GB", 1000, "1", "L", form="bottled", abv="7.59"), "75.0"),
    53: (
        lambda: [gb(1000, "0.33", d, "5.0", **BOTTLED) for d in ("2023-08-01", "2025-02-01", "2026-02-01")],
        ["346.66", "359.37", "372.57"],
    ),
    55: (lambda: [gb(1, "100", "2025-03-01", a, **BOTTLED) for a in ("3.4", "3.5")], ["32.67", "76.23"]),
    56: (lambda: [gb(1, "100", "2025-03-01", a) for a in ("8.4", "8.5")], ["157.58", "251.09"]),
    57: (lambda: spr("50", "2025-03-01", "5"), "9.81"),
    59: (lambda: [spr("100", d, "3") for d in ("2025-03-01", "2026-03-01")], ["7.29", "7.56"]),
    60: (lambda: spr("4500", "2025-03-01", "3"), "9.60"),
    61: (lambda: canada(80000, date(2006, 8, 1)), "1734271.00"),
    63: (lambda: canada(15000, date(2024, 5, 1)), "86952.00"),
    64: (lambda: canada(2000, date(2024, 5, 1)), "3623.00"),
    65: (lambda: canada(100, date(2026, 5, 1), filer=CANADA_REGULAR), "3769.00"),
    66: (lambda: [de(p) for p in ("6", "11", "12", "13", "16")], ["4.72", "8.65", "9.44", "10.23", "12.59"]),
    67: (lambda: de("12.9"), "9.44"),
    69: (
        lambda: [
            tax("IE", 10, "100", "L", abv="4.3"),
            tax("IE", 1000, "100", "L", abv="4.3",
                filer={"producer": "qualifying microbrewery", "annual_production": Decimal(1000)}),
        ],
        ["969.65", "48482.50"],
    ),
    70: (lambda: tax("AU", 10, "355", "mL", day=date(2019, 10, 1), **CASE), "162.24"),
    71: (lambda: tax("AU", 10, "355", "mL", day=date(2023, 3, 1), **CASE), "184.92"),
    74: (lambda: quantity("NZ", 1, "100", "L", abv="14"), "14"),
}  # fmt: skip
# fmt: off
STATES = [
    "AL", "AK", "AZ", "AR", "CA", "CO", "CT", "DE", "DC", "FL", "GA", "HI", "ID", "IL", "IN", "IA", "KS", "KY", "LA", "ME",
    "MD", "MA", "MI", "MN", "MS", "MO", "MT", "NE", "NV", "NH", "NJ", "NM", "NY", "NC", "ND", "OH", "OK", "OR", "PA", "RI",
    "SC", "SD", "TN", "TX", "UT", "VT", "VA", "WA", "WV", "WI", "WY",
]
# fmt: on
# Their own tests below.
ELSEWHERE = {12, 16, 17, 44, 48, 52, 73, 76}
# What no removal can ask: credits on another tax (4, 5) or used in a later year (35), a rule no longer in force (27),
# the day from which a notice counts, which the brewery states itself (29).
NOT_ASKED = {4, 5, 27, 29, 35}


def test_every_row_of_the_areas_table_is_checked_or_named() -> None:
    assert set(CHECKS) | ELSEWHERE | NOT_ASKED == set(ROWS)


@pytest.mark.parametrize("n", sorted(CHECKS), ids=lambda n: f"{n}: {ROWS[n]['input']}")
def test_area_row(n: int) -> None:
    asked, expected = CHECKS[n]
    want = [Decimal(x) for x in expected] if isinstance(expected, list) else Decimal(expected)
    assert asked() == want, ROWS[n]


def test_georgia_state_and_local() -> None:
    """Rows 16, 17: a case of 24 x 12 oz is $1.08 to the state and $1.20 to the city or county; a half barrel 5 + 6."""
    con = case("US-GA", 1, "12", "floz", **CASE)
    rows = con.execute("select band, amount from excise.duty where area = 'US-GA' order by band").fetchall()
    assert [amount for _, amount in rows] == [Decimal("1.20"), Decimal("1.08")]
    assert tax("US-GA", 1, "15.5", "gal") == 11


def test_alabama_half_barrel_state_tax() -> None:
    """Row 44: 1,984 oz are 166 units of 12 oz or fraction: $8.30."""
    con = case("US-AL", 1, "15.5", "gal")
    rows = con.execute("select amount from excise.duty where band like 'state tax%'").fetchall()
    assert rows == [(Decimal("8.30"),)]


def test_illinois_cook_county_and_chicago_add_up() -> None:
    """Row 48: 231 + 290 + 90 on 1,000 gallons."""
    con = case("US-IL-COOK-CHI", 1000, "1", "gal")
    rows = con.execute("select area, sum(amount) from excise.duty where area <> 'US' group by area order by area")
    assert rows.fetchall() == [("US-IL", 231), ("US-IL-COOK", 90), ("US-IL-COOK-CHI", 290)]


def test_australian_rates_follow_the_published_factor() -> None:
    """Row 73: subitem 1.6 of August 2016 times 1.013 is that of February 2017, to the cent."""
    rates = [r.bands[0].rate for r in areas.load()["AU"].rates if r.bands[0].name == "subitem 1.6"]
    assert rates == [Decimal("25.78"), Decimal("26.12")] and round(rates[0] * Decimal("1.013"), 2) == rates[1]


def test_connecticut_takes_no_tax_on_the_first_15_barrels_of_the_tavern() -> None:
    """Conn. Gen. Stat. 12-435: the first 15 barrels a year consumed on the manufacturer's premises; then $6 a barrel."""
    assert tax("US-CT", 15, "31", "gal", purpose="tavern") == 0
    assert tax("US-CT", 20, "31", "gal", purpose="tavern") == 30
    assert tax("US-CT", 20, "31", "gal") == 120


def test_where_a_wholesaler_pays_the_brewery_owes_nothing() -> None:
    """Texas Alcoholic Beverage Code 203.02: the distributor normally pays."""
    assert tax("US-TX", 10, "31", "gal", kind="wholesaler") == 0
    assert tax("US-ME", 10, "31", "gal", kind="wholesaler") == Decimal("108.50")


def test_a_size_outside_a_table_of_containers_is_an_error() -> None:
    assert "no-rate" in problems(case("US-PA", 1, "20", "L"))


def test_reduced_canadian_rates_that_were_not_read_are_an_error() -> None:
    assert "no-rate" in problems(case("CA", 1, "100", "L", day=date(2026, 5, 1)))


def test_an_unverified_rate_says_so_in_its_source() -> None:
    rows = case("US-NH", 1, "31", "gal").execute("select source, unverified from excise.duty where area = 'US-NH'")
    ((source, unverified),) = rows.fetchall()
    assert unverified and source.endswith("(unverified)")


def test_every_state_the_district_and_the_countries_have_a_file() -> None:
    states = {name.removeprefix("US-") for name in areas.load() if name.startswith("US-") and name.count("-") == 1}
    assert states == set(STATES)
    wanted = {f"US-{state}" for state in states} | {"US", "US-NY-NYC", "US-IL-COOK", "US-IL-COOK-CHI"}
    assert len(states) == 51
    assert wanted | {"GB", "CA", "DE", "IE", "AU", "NZ"} <= set(areas.load())


@pytest.mark.parametrize(
    ("n", "area", "rate", "rules", "units", "size", "expected"),
    [
        (12, "US-TX", "0.193548", {}, 31000, "1 gal", "5999.99"),
        (52, "XX", "11.89", {"basis": "hL_abv", "mode": "down"}, 150 * 24, "330 mL", "706.26"),
        (76, "XX", "181", {"basis": "L"}, 100, "350 mL", "6335"),
        (76, "XX", "155", {"basis": "L"}, 100, "350 mL", "5425"),
    ],
)
def test_rows_under_rates_that_are_not_shipped(
    tmp_path: Path, n: int, area: str, rate: str, rules: dict[str, str], units: int, size: str, expected: str
) -> None:
    """The agency's rate a gallon in Texas, the British rate of 2002, Japanese rates of 2023 and 2026 a litre."""
    own(tmp_path, area=area, rate=rate, **rules)
    number, unit = size.split(" ")
    got = tax(area, units, number, unit, form="bottled", folder=tmp_path, currency="USD")
    assert got == Decimal(expected), ROWS[n]


def test_a_file_of_the_brewery_stands_in_place_of_the_shipped_one(tmp_path: Path) -> None:
    made = own(tmp_path, area="US-TX", rate="0.193548")
    assert made.own and made.rates[0].bands[0].rate == Decimal("0.193548")
    assert areas.load(tmp_path)["US-TX"].file == "areas/US-TX.toml"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"more": "colour = 1"}, "rates[1].colour is not a key"),
        ({"start": "2000-02-30"}, "areas/XX.toml"),
        ({"start": '"soon"'}, "rates[1].from is 'soon'; expected a date"),
        ({"basis": "pints"}, "basis is 'pints'; expected one of"),
        ({"mode": "bankers"}, "rounding.money.mode is 'bankers'"),
        ({"more": '[[rates]]\nfrom = 2010-01-01\nrate = 2\nchecked = 2026-11-25'}, "rates[2].source is missing"),
        ({"more": '[[rates]]\nfrom = 2010-01-01\nrate = 2\nsource = "s"\nchecked = 2026-11-25'}, "two rates overlap"),
        ({"more": "abv_up_to = 5"}, "no rate covers 5.001 % abv"),
    ],
)
def test_an_area_file_that_is_wrong_is_refused_with_file_and_key(
    tmp_path: Path, change: dict[str, str], message: str
) -> None:
    with pytest.raises(areas.AreaError) as refusal:
        own(tmp_path, **change)
    assert "areas/XX.toml" in str(refusal.value) and message in str(refusal.value)


def test_the_areas_command_lists_shows_and_lays_out_a_calendar() -> None:
    listed = json.loads(areas_command(as_json=True))
    assert {"area", "name", "authority"} <= set(listed[0]) and len(listed) == len(areas.load())
    shown = json.loads(areas_command(area="us-ut", on=date(2025, 12, 1), as_json=True))
    assert [(rate["rate"], rate["source"]) for rate in shown["rates"]] == [
        ("13.60", "Utah Code 59-15-101(2)(b), proportionate")
    ]
    calendar = json.loads(areas_command(area="US", calendar=2024, as_json=True))
    rows = {(row["length"], row["period"]): row for row in calendar}
    # TTB due dates of 2024, quarterly (published).
    assert rows["quarterly", "2024-Q3"]["due"] == "2024-10-11" and rows["quarterly", "2024-Q1"]["from"] == "2024-01-01"
    text = areas_command(area="US-NH")
    assert "unverified" in text and "not tax advice" in text
    with pytest.raises(areas.AreaError):
        areas_command(area="US-XX")


@pytest.mark.parametrize(
    ("area", "units", "size", "kept", "to_send"),
    [("US-TX", 1000, ("31", "gal"), "120.00", "5880.00"), ("US-VA", 500000, ("6", "floz"), "100.00", "9900.00")],
)
def test_what_may_be_kept_back_when_paid_on_time(
    area: str, units: int, size: tuple[str, str], kept: str, to_send: str
) -> None:
    """Rows 11, 15: Texas Alcoholic Beverage Code 203.10, 2 %; Va. Code 4.1-239(C), 1 %."""
    con = case(area, units, *size, form="bottled" if size[1] == "floz" else "keg")
    rows = con.execute("select discount, to_pay - discount from excise.returns where tax > 0 and area = $a", {"a": area})
    assert rows.fetchall() == [(Decimal(kept), Decimal(to_send))]


def test_where_payment_is_due_on_another_day_than_the_return() -> None:
    """HMRC: return by the 15th, payment by the 25th or the working day before; 25 July 2026 is a Saturday."""
    con = case("GB", 1, "50", "L", day=date(2026, 6, 10))
    assert con.execute("select due_date, pay_date from excise.returns").fetchall() == [
        (date(2026, 7, 15), date(2026, 7, 24))
    ]


def test_whole_gallons_of_new_york_months_add_up_to_the_return() -> None:
    """MT-50: whole gallons; an annual filer's months are the year to date less what earlier months showed."""
    con = books(
        {
            "accounts": [{"account": "house", "kind": "retailer", "area": "US-NY"}],
            "shipments": [ship(date(2026, m, 5), "sixth_bbl", 1, f"S{m}") for m in (1, 2, 3, 4)],
        },
        filers=[{"area": "US-NY", "return_period": "annual"}],
    )
    months = con.execute("select quantity, amount from excise.duty_months where area = 'US-NY' order by month").fetchall()
    assert [quantity for quantity, _ in months] == [5, 5, 6, 5]  # 5 1/6, 10 1/3, 15 1/2, 20 2/3 gallons to date
    assert sum(amount for _, amount in months) == Decimal("2.94") == tax_of(con)
    shares = con.execute("select sum(amount) from excise.removal_duty where area = 'US-NY'").fetchall()
    assert shares == [(Decimal("2.94"),)]


def tax_of(con: Any) -> Decimal:
    return Decimal(con.execute("select sum(amount) from excise.duty where area = 'US-NY'").fetchall()[0][0])


def test_holidays_move_the_due_days_of_britain_and_canada() -> None:
    """Pay Alcohol Duty (GOV.UK): by the 25th, the working day before where that is none. CRA ED212-13: the 10th working day."""
    due = {(name, p.period): (p.due_date, p.pay_date) for name in ("GB", "CA") for rule in areas.load()[name].periods
           if rule.length == "monthly" for p in periods("monthly", rule.due, rule.pay, 2026, 2026)}  # fmt: skip
    # 25 April 2026 is a Saturday, and 25 December Christmas Day.
    assert due["GB", "2026-03"][1] == date(2026, 4, 24) and due["GB", "2026-11"][1] == date(2026, 12, 24)
    # The 3rd of April is Good Friday, the 1st of July Canada Day, the 1st of September 2026 a Tuesday before Labour Day.
    assert [due["CA", month][0] for month in ("2026-03", "2026-06", "2026-08")] == [
        date(2026, 4, 15), date(2026, 7, 15), date(2026, 9, 15)
    ]  # fmt: skip
