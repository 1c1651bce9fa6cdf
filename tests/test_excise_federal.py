"""Federal beer duty of the United States: printed values and arithmetic from the rule, run from records to duty.

The rows and their sources stand in check_values/federal.csv (kind S: printed at the source; D: arithmetic from the rule
named) and check_values/barrel_equivalents.csv.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from excise_case import books, duty, package, problems, ship
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from brewcost import areas
from brewcost.due_dates import periods

CHECKS = Path(__file__).parent / "check_values"
FEDERAL = {int(row["n"]): row for row in csv.DictReader((CHECKS / "federal.csv").open(encoding="utf-8"))}
EQUIVALENTS = list(csv.DictReader((CHECKS / "barrel_equivalents.csv").open(encoding="utf-8")))
MONDAY = date(2026, 3, 2)
OVER_2_MILLION = [{"area": "US", "over_2_million_bbl": True}]


def removed(records: dict[str, Any], **more: Any) -> tuple[Decimal, Decimal]:
    """Barrels removed at 5 decimals and taxable at 2, all days and forms."""
    rows = books(records, **more).execute(
        "select sum(removed_bbl), sum(taxable_bbl) from excise.removals_by_day where area = 'US'"
    ).fetchall()
    return Decimal(rows[0][0]), Decimal(rows[0][1])


@lru_cache(maxsize=1)
def all_packages() -> dict[str, Decimal]:
    """One of every package of the tables, shipped: barrels taxed, by form, containers, size and unit."""
    asked = [("keg", size, "gal", 1) for size in ("5", "31/6", "31/3")] + [("keg", s, "L", 1) for s in ("30", "50")]
    asked += [("bottled", size, "gal", 1) for size in ("100", "200")]
    asked += [bottle(FEDERAL[n]["input"]) for n in range(1, 16)]
    asked += [
        ("keg" if "25.156" in row["source"] else "bottled", row["container_volume"], row["unit"], int(row["containers"]))
        for row in EQUIVALENTS
    ]
    made = [package(str(key), *key) for key in dict.fromkeys(asked)]
    con = books({"packages": made, "shipments": [ship(MONDAY, p["package"], 1, p["package"]) for p in made]})
    return dict(con.execute("select package, sum(quantity) from excise.removal_duty join excise.removals using"
                            " (document, line, kind) group by package").fetchall())  # fmt: skip


def one_package(form: str, size: str, unit: str, containers: int = 1) -> Decimal:
    return all_packages()[str((form, size, unit, containers))]


def kegs(bbl: int, year: int = 2026, over_2_million: bool = False) -> Decimal:
    filers = OVER_2_MILLION if over_2_million else []
    return duty(books({"shipments": [ship(date(year, 3, 2), "barrel", bbl)]}, filers=filers))


def tank(bbl: str) -> Decimal:
    move = {"move": "M1", "date": MONDAY, "from_lot": "L1", "volume_out_bbl": Decimal(bbl), "reason": "serving_tank"}
    return duty(books({"moves": [move]}))


def due(length: str, name: str) -> date:
    rule = next(rule.due for rule in areas.load()["US"].periods if rule.length == length)
    day = next(p.due_date for p in periods(length, rule, None, int(name[:4]), int(name[:4])) if p.period == name)
    assert day is not None
    return day


def bottle(text: str) -> tuple[str, str, str, int]:
    count, _, size = text.partition(" × ")
    number, unit = size.split(" ")
    return "bottled", number, {"oz": "floz", "ml": "mL", "l": "L"}[unit], int(count)


def federal(n: int) -> Any:
    """What the program makes of the row's input."""
    if n <= 15:
        return one_package(*bottle(FEDERAL[n]["input"]))
    rows: dict[int, Callable[[], Any]] = {
        16: lambda: one_package("keg", "5", "gal"),
        17: lambda: one_package("keg", "30", "L"),
        18: lambda: one_package("keg", "50", "L"),
        19: lambda: one_package("keg", "31/6", "gal"),
        20: lambda: one_package("keg", "31/3", "gal"),
        23: lambda: removed({"shipments": [ship(MONDAY, "half_bbl", 10), ship(MONDAY, "sixth_bbl", 6, "S2")]}),
        24: lambda: removed({"shipments": [ship(MONDAY, "case_24x12", 41)]}),
        27: lambda: removed({"shipments": [ship(MONDAY, "keg_30L", 20)]}),
        28: lambda: tank("8.98"),
        29: lambda: tank("3.63"),
        30: lambda: tank("2.97"),
        31: lambda: kegs(60000),
        32: lambda: kegs(61000),
        34: lambda: kegs(2000000),
        35: lambda: kegs(61000, 2017),
        36: lambda: kegs(7000000, over_2_million=True),
        38: lambda: kegs(60000, over_2_million=True) - kegs(60000),
        40: lambda: due("quarterly", "2024-Q1"),
        41: lambda: due("quarterly", "2024-Q3"),
        42: lambda: due("quarterly", "2024-Q4"),
        43: lambda: due("annual", "2025"),
        44: lambda: due("semimonthly", "2023-01-a"),
        46: lambda: due("semimonthly", "2023-12-b"),
        47: lambda: due("semimonthly", "2019-09-b"),
        49: lambda: due("semimonthly", "2023-09-c"),
        54: lambda: (one_package("bottled", "100", "gal"), one_package("bottled", "200", "gal")),
        56: lambda: (kegs(14285), kegs(14286)),
    }
    return rows[n]()


EXPECTED: dict[int, Any] = {
    **{n: Decimal(FEDERAL[n]["expected"]) for n in FEDERAL if n <= 20},
    23: (Decimal("6.00002"), Decimal("6.00")),
    24: (Decimal("2.97578"), Decimal("2.98")),
    27: (Decimal("5.11300"), Decimal("5.11")),
    28: Decimal("31.43"),
    29: Decimal("12.71"),
    30: Decimal("10.40"),
    31: Decimal(210000),
    32: Decimal(226000),
    34: Decimal(31250000),
    35: Decimal(438000),
    36: Decimal(114000000),
    38: Decimal(750000),
    40: date(2024, 4, 12),
    41: date(2024, 10, 11),
    42: date(2025, 1, 14),
    43: date(2026, 1, 14),
    44: date(2023, 1, 27),
    46: date(2024, 1, 12),
    47: date(2019, 9, 27),
    49: date(2023, 10, 13),
    54: (Decimal("3.22581"), Decimal("6.45161")),
    56: (Decimal("49997.50"), Decimal("50001.00")),
}
# Rows checked by a test of their own below, and one that no record can ask: a single can is 0.00 barrels a day.
ELSEWHERE = {21, 51, 52, 53, 57, 58}
NOT_ASKED = {39}


def test_every_row_of_the_federal_table_is_checked_or_named() -> None:
    assert set(EXPECTED) | ELSEWHERE | NOT_ASKED == set(FEDERAL)


@pytest.mark.parametrize("n", sorted(EXPECTED), ids=lambda n: f"{n}: {FEDERAL[n]['input']}, {FEDERAL[n]['source']}")
def test_federal_row(n: int) -> None:
    assert federal(n) == EXPECTED[n], FEDERAL[n]


@pytest.mark.parametrize("row", EQUIVALENTS, ids=lambda row: f"{row['containers']} x {row['container_volume']} {row['unit']}")
def test_barrel_equivalent_of_the_table(row: dict[str, str]) -> None:
    form = "keg" if "25.156" in row["source"] else "bottled"
    got = one_package(form, row["container_volume"], row["unit"], int(row["containers"]))
    assert got == Decimal(row["barrels"]), row["source"]


def test_every_printed_equivalent_follows_from_gallons_over_31() -> None:
    """The formula used for a size that is not listed gives each of the 56 listed rows (27 CFR 25.156(a), 25.158)."""
    table = areas.load()["US"].equivalents
    assert len(table) == 56
    for size in table:
        exact = size.container_ml * size.containers / Decimal("117347.765304")
        assert round(exact, 5) == size.barrels, size


def test_a_barrel_is_117_347765304_litres() -> None:
    """Row 57: 26 U.S.C. 5051(a)(1)(B), 5052(b): 31 gallons of 231 cubic inches."""
    rows = books({"shipments": [ship(MONDAY, "barrel", 1)]}).execute("select litres from excise.removals").fetchall()
    assert rows == [(Decimal("117.3477653040"),)]


def test_due_dates_of_september_when_paid_by_eft() -> None:
    """26 U.S.C. 5061(d)(5)(A), (d)(6): 16 to 26 September due the 29th; a Sunday moves it to the Monday (2024)."""
    assert due("semimonthly by EFT", "2023-09-b") == date(2023, 9, 29)
    assert due("semimonthly by EFT", "2024-09-b") == date(2024, 9, 30)


def test_beer_that_comes_back_the_same_day_is_an_offset_before_the_rounding() -> None:
    """26 U.S.C. 5056(a): 13 sixths out, 1 back: 2.16671 - 0.16667 = 2.00004."""
    con = books(
        {
            "shipments": [ship(MONDAY, "sixth_bbl", 13)],
            "returns": [ship(MONDAY, "sixth_bbl", 1, "C1", original_document="S1")],
        }
    )
    day = con.execute("select removed_bbl, returned_bbl, taxable_bbl, adjustment_bbl from excise.removals_by_day")
    assert day.fetchall() == [(Decimal("2.16671"), Decimal("0.16667"), Decimal("2.00"), 0)]
    assert duty(con) == Decimal("7.00")


def test_returns_beyond_the_days_removals_are_an_adjustment_shown_apart() -> None:
    con = books(
        {
            "shipments": [ship(date(2026, 3, 2), "half_bbl", 10)],
            "returns": [ship(date(2026, 3, 9), "half_bbl", 3, "C1", original_document="S1")],
        }
    )
    rows = con.execute("select band, quantity, amount from excise.duty order by quantity").fetchall()
    assert rows == [
        ("first 60,000 bbl of the calendar year, returned beyond the day's removals", Decimal("-1.5"), Decimal("-5.25")),
        ("first 60,000 bbl of the calendar year", Decimal("5"), Decimal("17.50")),
    ]


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"original_document": "X1"}, "beer that had left untaxed"),
        ({"removed_from_site": "other"}, "beer of another of our breweries"),
        ({"outcome": "destroyed_elsewhere"}, "beer destroyed elsewhere"),
    ],
)
def test_no_offset_for(change: dict[str, str], what: str) -> None:
    con = books(
        {
            "shipments": [ship(MONDAY, "half_bbl", 4), ship(MONDAY, "half_bbl", 1, "X1", purpose="in_bond")],
            "returns": [ship(MONDAY, "half_bbl", 1, "C1", **({"original_document": "S1"} | change))],
        },
        sites={"main": "US", "other": "US"},
    )
    assert duty(con) == Decimal("7.00"), what


def test_a_part_full_keg_is_an_offset_at_its_measured_volume() -> None:
    back = ship(MONDAY, "half_bbl", 1, "C1", original_document="S1", volume_returned_bbl=Decimal("0.2"))
    con = books({"shipments": [ship(MONDAY, "half_bbl", 2)], "returns": [back]})
    assert duty(con) == Decimal("2.80")  # (1 - 0.2) bbl at 3.50


@pytest.mark.parametrize("purpose", sorted(set(areas.PURPOSES) - set(areas.TAXED) - {"packaging"}))
def test_free_of_tax(purpose: str) -> None:
    con = books({"shipments": [ship(MONDAY, "half_bbl", 4, purpose=purpose)]})
    assert duty(con) == 0
    assert problems(con) == ({"keep-proof"} if purpose == "casualty" else set())


@pytest.mark.parametrize("tax_class", ["soft_drink", "cereal_beverage"])
def test_what_is_no_beer_stays_outside(tax_class: str) -> None:
    con = books({"beers": [{"beer": "Pale", "tax_class": tax_class}], "shipments": [ship(MONDAY, "half_bbl", 4)]})
    assert con.execute("select * from excise.removals_by_day").fetchall() == []
    assert duty(con) == 0


@pytest.mark.parametrize(("abv", "found"), [("0.5", set()), ("0.49", {"tax-class-unlike-strength"})])
def test_malt_beverage_under_half_a_percent_is_no_beer(abv: str, found: set[str]) -> None:
    """Row 58: 27 CFR 25.11; 26 U.S.C. 5052(a)."""
    con = books({"beers": [{"beer": "Pale", "abv_pct": Decimal(abv)}], "shipments": [ship(MONDAY, "half_bbl", 2)]})
    assert problems(con) == found


def test_a_size_outside_the_tables_is_computed_and_flagged() -> None:
    """A keg of 20 L is in neither 27 CFR 25.156 nor 25.158: 20 L / 117.347765304 = 0.17043."""
    con = books({"shipments": [ship(MONDAY, "keg_20L", 1)]})
    assert con.execute("select removed_bbl from excise.removals_by_day").fetchall() == [(Decimal("0.17043"),)]
    assert problems(con) == {"unlisted-size"}


def test_the_day_that_crosses_60_000_barrels_is_split_over_all_sites() -> None:
    con = books(
        {
            "shipments": [
                ship(date(2026, 1, 5), "barrel", 59990),
                ship(date(2026, 4, 7), "barrel", 25, "S2", site="annex"),
                ship(date(2026, 4, 7), "barrel", 10, "S3"),
            ]
        },
        sites={"main": "US", "annex": "US"},
    )
    rows = con.execute(
        "select site, period, rate, quantity, amount from excise.duty where quantity <> 0 order by all"
    ).fetchall()
    assert rows == [
        ("annex", "2026-Q2", Decimal("3.5"), 10, 35),
        ("annex", "2026-Q2", Decimal("16"), 15, 240),
        ("main", "2026-Q1", Decimal("3.5"), 59990, Decimal("209965.00")),
        ("main", "2026-Q2", Decimal("16"), 10, 160),
    ]


@pytest.mark.parametrize(
    ("barrels", "quota", "opening", "asked"),
    [
        (25000, 60000, [], True),  # 31 of 90 days of the year: 72,581 at that rate
        (20000, 60000, [], False),  # 58,065
        (20000, 50000, [], True),
        (25000, 60000, [{"area": "US", "period": "2026-02", "removed_bbl": 0}], False),
        (25000, 60000, [{"area": "US", "period": "2026-02", "tax_accrued": 9}], True),
    ],
)
def test_books_that_begin_inside_a_year_are_asked_what_was_removed_before_where_it_matters(
    barrels: int, quota: int, opening: list[dict[str, Any]], asked: bool
) -> None:
    """26 U.S.C. 5051(a)(2): 60,000 barrels of a calendar year, or the brewery's part of them; when to ask is a rule of ours."""
    con = books(
        {"shipments": [ship(date(2026, 3, 31), "barrel", barrels)], "opening_duty": opening},
        filers=[{"area": "US", "reduced_rate_quota_bbl": quota}],
    )
    found = con.execute(
        "select month, field, value, expected from excise.problems where code = 'quota-before-books'"
    ).fetchall()
    assert found == ([("2026-03", "removed_bbl", "2026-01-01", "a row of opening_duty for US")] if asked else [])


def test_the_quota_of_the_brewery_moves_the_limit_and_each_year_begins_anew() -> None:
    con = books(
        {"shipments": [ship(date(2025, 12, 30), "barrel", 150), ship(date(2026, 1, 2), "barrel", 50, "S2")]},
        filers=[{"area": "US", "reduced_rate_quota_bbl": 100}],
    )
    assert duty(con) == 100 * Decimal("3.5") + 50 * 16 + 50 * Decimal("3.5")


def test_barrels_removed_before_the_books_began_count() -> None:
    con = books(
        {
            "shipments": [ship(date(2026, 5, 4), "barrel", 30)],
            "opening_duty": [{"area": "US", "period": "2026-Q2", "removed_bbl": 59990}],
        }
    )
    assert duty(con) == 10 * Decimal("3.5") + 20 * 16


def test_every_period_of_a_filer_has_a_row_nil_or_not() -> None:
    con = books(
        {"shipments": [ship(date(2026, 2, 2), "half_bbl", 2), ship(date(2026, 7, 2), "half_bbl", 2, "S2")]},
        sites={"main": "US", "annex": "US"},
    )
    rows = con.execute("select site, period, sum(amount) from excise.duty group by all order by all").fetchall()
    nil, two = Decimal(0), Decimal("3.50")
    assert rows == [
        ("annex", "2026-Q1", nil), ("annex", "2026-Q2", nil), ("annex", "2026-Q3", nil),
        ("main", "2026-Q1", two), ("main", "2026-Q2", nil), ("main", "2026-Q3", two),
    ]  # fmt: skip


def test_a_removal_before_the_first_rate_is_an_error_with_area_date_and_document() -> None:
    con = books({"shipments": [ship(date(1990, 12, 31), "half_bbl", 2, "S00007")]})
    rows = con.execute("select severity, code, file, row, value, message from excise.problems").fetchall()
    assert [row[:5] for row in rows] == [("error", "no-rate", "shipments.csv", 2, "1990-12-31")]
    assert "US" in rows[0][5] and "S00007" in rows[0][5] and "1990-12-31" in rows[0][5]


def test_books_in_another_currency_are_an_error_not_a_sum_of_dollars_and_euros() -> None:
    con = books({"shipments": [ship(MONDAY, "half_bbl", 2, "S00007")]}, currency="EUR")
    assert problems(con) == {"currency-unlike-books"}


def test_an_area_without_a_file_is_a_warning() -> None:
    con = books({"shipments": [ship(MONDAY, "half_bbl", 2)]}, sites={"main": "FR"})
    assert con.execute("select severity, code, value from excise.problems").fetchall() == [("warning", "no-area-file", "FR")]


def test_payments_leave_what_is_owed() -> None:
    con = books(
        {
            "shipments": [ship(date(2026, 1, 5), "barrel", 10), ship(date(2026, 2, 5), "barrel", 10, "S2")],
            "payments": [{"date": date(2026, 2, 10), "area": "US", "period": "2026-Q1", "amount": Decimal("30")}],
        }
    )
    rows = con.execute("select month, amount, paid, owed from excise.duty_months order by month").fetchall()
    assert rows == [("2026-01", 35, 0, 35), ("2026-02", 35, 30, 40)]


# A week of removals: which day, how many kegs of which size, from which site, whether it comes back.
PART = st.tuples(
    st.integers(1, 5), st.sampled_from(["sixth_bbl", "half_bbl", "case_24x12", "barrel"]), st.integers(1, 40),
    st.sampled_from(["main", "annex"]), st.booleans(),
)  # fmt: skip
FEW = hypothesis_settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
QUOTA = [{"area": "US", "reduced_rate_quota_bbl": 60}]


def week(parts: list[tuple[int, str, int, str, bool]], month: int = 3) -> dict[str, list[dict[str, Any]]]:
    records: dict[str, list[dict[str, Any]]] = {"shipments": [], "returns": []}
    for number, (day, name, units, site, back) in enumerate(parts):
        kind = "returns" if back else "shipments"
        records[kind].append(ship(date(2026, month, day), name, units, f"D{number:03}", site=site))
    return records


@FEW
@given(st.lists(PART, min_size=1, max_size=12), st.randoms(use_true_random=False))
def test_shuffling_or_splitting_shipments_within_a_day_never_changes_duty(
    parts: list[tuple[int, str, int, str, bool]], random: Any
) -> None:
    other = []
    for day, name, units, site, back in parts:
        cut = random.randint(0, units)
        other += [(day, name, some, site, back) for some in (cut, units - cut) if some]
    random.shuffle(other)
    sites = {"main": "US", "annex": "US"}
    one, two = (books(week(p), filers=QUOTA, sites=sites) for p in (parts, other))
    query = "select site, period, band, quantity, amount from excise.duty order by all"
    assert one.execute(query).fetchall() == two.execute(query).fetchall()


@FEW
@given(st.lists(PART, min_size=1, max_size=12), st.lists(PART, max_size=8))
def test_shares_add_up_to_the_duty_and_days_to_the_returns(
    march: list[tuple[int, str, int, str, bool]], april: list[tuple[int, str, int, str, bool]]
) -> None:
    records = week(march)
    for kind, rows in week(april, 4).items():
        records[kind] += [row | {"document": "A" + row["document"]} for row in rows]
    con = books(records, filers=[{**QUOTA[0], "return_period": "annual"}], sites={"main": "US", "annex": "US"})
    whole = duty(con)
    shares = con.execute("select coalesce(sum(amount), 0) from excise.removal_duty").fetchall()[0][0]
    months = con.execute("select sum(amount) from excise.duty_months").fetchall()[0][0]
    assert shares == whole == months
    by_month = con.execute(
        "select m.month, m.amount, sum(d.amount) from excise.duty_months as m join excise.removals as r"
        " on r.month = m.month and r.site = m.site join excise.removal_duty as d"
        " on d.document = r.document and d.line = r.line and d.kind = r.kind group by m.site, m.month, m.amount"
    ).fetchall()
    assert all(booked == shared for _, booked, shared in by_month)
    days = con.execute("select sum(taxable_bbl + adjustment_bbl) from excise.removals_by_day").fetchall()[0][0]
    assert days == con.execute("select sum(quantity) from excise.duty").fetchall()[0][0]


@FEW
@given(st.integers(1, 400), st.integers(1, 400), st.integers(0, 300))
def test_bands_leave_no_jump_and_no_gap(first: int, second: int, quota: int) -> None:
    con = books(
        {"shipments": [ship(date(2026, 3, 2), "half_bbl", first), ship(date(2026, 3, 3), "half_bbl", second, "S2")]},
        filers=[{"area": "US", "reduced_rate_quota_bbl": quota}],
    )
    bbl = Decimal(first + second) / 2
    low = min(bbl, Decimal(quota))
    exact = low * Decimal("3.50") + (bbl - low) * 16
    assert abs(duty(con) - exact) < Decimal("0.005") + Decimal("0.0001")


@pytest.mark.parametrize(("received", "lost"), [("196.00", None), ("195.99", "4.01")])
def test_a_loss_on_the_way_in_bond_is_claimed_whole_beyond_2_per_cent(received: str, lost: str | None) -> None:
    """Rows 52, 53: 27 CFR 25.184(b), (c)."""
    beer = {"date": MONDAY, "lot": "L1", "volume_bbl": Decimal(received), "quantity_shipped": 200, "brewed_by": "us"}
    con = books({"beer_in": [{**beer, "document": "B1"}]})
    rows = con.execute("select bbl, claim_by from excise.claims").fetchall()
    assert rows == ([] if lost is None else [(Decimal(lost), date(2026, 9, 2))])


def test_beer_back_at_another_brewery_is_a_claim_within_six_months() -> None:
    """26 U.S.C. 5056(d); 27 CFR 25.283, at the lower rate (25.281)."""
    back = ship(MONDAY, "half_bbl", 2, "C1", original_document="S1", removed_from_site="other")
    con = books({"shipments": [ship(MONDAY, "half_bbl", 4)], "returns": [back]}, sites={"main": "US", "other": "US"})
    rows = con.execute("select document, bbl, amount, claim_by from excise.claims").fetchall()
    assert rows == [("C1", 1, Decimal("3.50"), date(2026, 9, 2))]


@pytest.mark.parametrize(
    ("length", "bbl", "found"),
    [
        ("annual", 285, None),  # 285 * 3.50 = 997.50
        ("annual", 286, ("quarterly", "2026-Q2", date(2026, 7, 14))),  # 1,001.00
        ("quarterly", 14285, None),  # 49,997.50
        ("quarterly", 14286, ("semimonthly", "2026-05-a", date(2026, 5, 29))),  # 50,001.00
    ],
)
def test_passing_a_limit_of_the_return_period_is_announced_with_the_day(
    length: str, bbl: int, found: tuple[str, str, date] | None
) -> None:
    """26 U.S.C. 5061(d)(4)(B): due the 14th day after the quarter, or the semimonthly period, that holds the day."""
    shipments = [ship(date(2026, 2, 2), "barrel", bbl - 1), ship(date(2026, 5, 4), "barrel", 1, "S2")]
    con = books({"shipments": shipments}, filers=[{"area": "US", "return_period": length}])
    rows = con.execute("select date, next_length, next_period, next_due from excise.notices").fetchall()
    assert rows == ([] if found is None else [(date(2026, 5, 4), *found)])


def test_a_filed_return_no_longer_moves_and_its_change_goes_on_the_next() -> None:
    con = books(
        {
            "shipments": [ship(date(2026, 2, 2), "barrel", 10), ship(date(2026, 5, 4), "barrel", 4, "S2")],
            "filings": [{"area": "US", "site": "main", "period": "2026-Q1", "filed_on": date(2026, 4, 10),
                         "quantity": 9, "amount": Decimal("31.50")}],
            "payments": [{"date": date(2026, 4, 10), "area": "US", "site": "main", "period": "2026-Q1",
                          "amount": Decimal("31.50")}],
        }
    )  # fmt: skip
    rows = con.execute(
        "select period, tax, increasing, decreasing, to_pay, left_to_pay, due_date from excise.returns order by period"
    ).fetchall()
    assert rows == [
        ("2026-Q1", Decimal("31.50"), 0, 0, Decimal("31.50"), 0, date(2026, 4, 14)),
        ("2026-Q2", Decimal("14.00"), Decimal("3.50"), 0, Decimal("17.50"), Decimal("17.50"), date(2026, 7, 14)),
    ]
    assert "filed-return-changed" in problems(con)


@pytest.mark.parametrize(("fill_gal", "bbl"), [("15.81", "5.00"), ("15.8131", "5.10")])
def test_a_keg_more_than_2_per_cent_over_its_size_is_taxed_on_what_it_holds(fill_gal: str, bbl: str) -> None:
    """Row 21: 27 CFR 25.156(b), "more than 2 percent": 15.81 gal is exactly 2 % over a half barrel."""
    con = books(
        {
            "packaging": [{"run": "R1", "date": MONDAY, "lot": "L1", "beer": "Pale", "package": "half_bbl", "filled": 10,
                           "average_fill_bbl": round(Decimal(fill_gal) / 31, 6)}],
            "shipments": [ship(MONDAY, "half_bbl", 10)],
        }
    )  # fmt: skip
    assert con.execute("select taxable_bbl from excise.removals_by_day").fetchall() == [(Decimal(bbl),)]
    assert problems(con) == (set() if bbl == "5.00" else {"overfilled-keg"})


def test_beer_another_brewed_is_taxed_at_18_dollars_first_in_first_out() -> None:
    """26 U.S.C. 5051(a)(1)(A)(ii): 10 half barrels of another's beer first, then our own: 5 * 18 + 2.5 * 3.50."""
    con = books(
        {
            "beer_in": [{"date": MONDAY, "package": "half_bbl", "units": 10, "document": "B1", "brewed_by": "other"}],
            "packaging": [{"run": "R1", "date": date(2026, 3, 3), "lot": "L1", "beer": "Pale", "package": "half_bbl",
                           "filled": 10}],
            "shipments": [ship(date(2026, 3, 4), "half_bbl", 8), ship(date(2026, 3, 5), "half_bbl", 7, "S2")],
        }
    )  # fmt: skip
    rows = con.execute("select rate, quantity from excise.duty order by rate").fetchall()
    assert rows == [(Decimal("3.5"), Decimal("2.5")), (18, 5)]
    assert duty(con) == Decimal("98.75")
    shares = con.execute("select document, amount from excise.removal_duty order by document").fetchall()
    assert shares == [("S1", Decimal("72.00")), ("S2", Decimal("26.75"))]


def test_anothers_beer_is_followed_through_counts_repacks_and_returns() -> None:
    """26 U.S.C. 5051(a)(1)(A)(ii), followed first in, first out: 10 half barrels of another's beer, then 20 of our own.

    A count finds 2 of the first missing (8 left); 4 of them are repacked into 8 quarters; the other 4 leave with the first
    shipment, of which 3 come back and leave again with the last. Taxed at $18: 2 + 2 + 1.5 bbl; what came back on a day without
    removals stands apart, at the lower rate.
    """
    con = books(
        {
            "beer_in": [{"date": MONDAY, "package": "half_bbl", "units": 10, "document": "B1", "brewed_by": "other"}],
            "counts": [{"date": MONDAY, "package": "half_bbl", "units": 8}],
            "repacks": [{"document": "P1", "date": date(2026, 3, 3), "from_package": "half_bbl", "from_units": 4,
                         "to_package": "quarter_bbl", "to_units": 8}],
            "packaging": [{"run": "R1", "date": date(2026, 3, 4), "lot": "L1", "beer": "Pale", "package": "half_bbl",
                           "filled": 20}],
            "shipments": [
                ship(date(2026, 3, 5), "half_bbl", 6),           # 4 of another's, 2 of ours
                ship(date(2026, 3, 6), "quarter_bbl", 8, "S2"),  # all of another's
                ship(date(2026, 3, 9), "half_bbl", 21, "S3"),    # 18 of ours, then the 3 that came back
            ],
            "returns": [{"document": "C1", "date": date(2026, 3, 7), "package": "half_bbl", "units": 3,
                         "outcome": "restocked", "original_document": "S1"}],
        }
    )  # fmt: skip
    parts = con.execute("select document, brewed_by, units from excise.parts order by document").fetchall()
    assert parts == [("S1", "other", 4), ("S2", "other", 8), ("S3", "other", 3)]
    at = dict(con.execute("select rate, sum(quantity) from excise.duty where quantity > 0 group by rate").fetchall())
    assert at == {18: Decimal("5.5"), Decimal("3.5"): 10}


def test_an_overfilled_keg_is_taxed_on_what_it_holds_until_it_is_repacked() -> None:
    """27 CFR 25.156(b): the second of two runs is overfilled; a repack takes the first four and one overfilled keg."""
    con = books(
        {
            "packaging": [
                {"run": "R1", "date": MONDAY, "lot": "L1", "beer": "Pale", "package": "half_bbl", "filled": 4},
                {"run": "R2", "date": date(2026, 3, 3), "lot": "L1", "beer": "Pale", "package": "half_bbl", "filled": 6,
                 "average_fill_bbl": Decimal("0.52")},
            ],
            "repacks": [{"document": "P1", "date": date(2026, 3, 4), "from_package": "half_bbl", "from_units": 5,
                         "to_package": "sixth_bbl", "to_units": 15}],
            "shipments": [ship(date(2026, 3, 5), "half_bbl", 5), ship(date(2026, 3, 6), "sixth_bbl", 15, "S2")],
        }
    )  # fmt: skip
    assert con.execute("select document, each_bbl, units from excise.parts").fetchall() == [("S1", Decimal("0.52"), 5)]
    assert con.execute("select sum(quantity) from excise.duty").fetchall() == [(Decimal("5.10"),)]


def test_beer_received_in_bulk_and_racked_here_stays_anothers_beer() -> None:
    con = books(
        {
            "beer_in": [{"date": MONDAY, "lot": "L1", "volume_bbl": 10, "document": "B1", "brewed_by": "other"}],
            "moves": [{"move": "M1", "date": MONDAY, "from_lot": "L1", "to_lot": "L2", "volume_out_bbl": 10,
                       "reason": "transfer"}],
            "packaging": [{"run": "R1", "date": MONDAY, "lot": "L2", "beer": "Pale", "package": "barrel", "filled": 9}],
            "shipments": [ship(MONDAY, "barrel", 9)],
        }
    )  # fmt: skip
    assert duty(con) == 9 * 18
