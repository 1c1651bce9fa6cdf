"""What is to be filed and paid, by when, and the `areas` command, through the whole pipeline and the command line."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pytest
from excise_case import books as excise_books
from excise_case import ship
from small_books import ACCOUNTS, REFERENCE, books, one, rows
from test_commands import brewcost

GOODS = [{"site": "main", "beer": "Test Ale", "package": "half_bbl", "units": "500", "cost": "30000"}]
FILER = '[[filers]]\narea = "US"\nreturn_period = "quarterly"\n'


def shipped(day: str, units: int, document: str, **more: str) -> dict[str, str]:
    return {"date": day, "site": "main", "document": document, "line": "1", "account": "Test house", "beer": "Test Ale",
            "package": "half_bbl", "units": str(units), "purpose": "sale", "unit_price": "100", **more}  # fmt: skip


def test_the_report_of_operations_of_october_is_due_on_15_november() -> None:
    """Row 51: pay.gov instructions of F 5130.9: the 15th day after the period; quarterly Apr 15, Jul 15, Oct 15, Jan 15."""
    con = books(
        REFERENCE | {"opening_goods": GOODS, "shipments": [shipped("2026-10-05", 4, "S1"), shipped("2026-12-07", 2, "S2")]},
        first_month="2026-10", more=FILER,
    )  # fmt: skip
    due = rows(con, "select month, what, due_date from report.duty_due where what like 'operations%' order by all")
    assert [tuple(row.values()) for row in due] == [
        ("2026-10", "operations, month", date(2026, 11, 15)),
        ("2026-11", "operations, month", date(2026, 12, 15)),
        ("2026-12", "operations, month", date(2027, 1, 15)),
        ("2026-12", "operations, quarter", date(2027, 1, 15)),
    ]


def test_the_quarterly_report_is_the_monthly_ones_by_the_lines_of_its_own_edition() -> None:
    """TTB F 5130.26 (10/2014): 8 = 1 to 7, 10 = removed for consumption or sale with the tavern, 11 = subpart L."""
    sent = [shipped("2026-01-05", 40, "S1"), shipped("2026-02-09", 6, "S2", purpose="tavern"),
            shipped("2026-03-09", 10, "S3", purpose="research"),
            shipped("2026-03-10", 8, "S4", purpose="destroyed")]  # fmt: skip
    back = [{"date": "2026-03-11", "site": "main", "document": "C1", "line": "1", "account": "Test house",
             "beer": "Test Ale", "package": "half_bbl", "units": "2", "outcome": "restocked",
             "original_document": "S1"}]  # fmt: skip
    con = books(REFERENCE | {"opening_goods": GOODS, "shipments": sent, "returns": back}, more=FILER)
    lines = dict(
        con.execute("select form_line, bbl from report.quarterly_operations where month = '2026-03' and bbl > 0").fetchall()
    )
    assert lines == {1: 250, 4: 1, 8: 251, 10: 23, 11: 5, 13: 4, 17: 219, 18: 251}
    assert one(con, "select count(*) from result.operation_checks where not holds") == 0
    total = "select bbl from result.operations where period = '2026-03' and form_line = 33 and form_column = 'total'"
    assert one(con, total) == 219


def test_what_was_filed_and_its_changes_come_to_the_duty_of_the_records() -> None:
    """X10: result.duty and duty_months follow the records, result.returns what was filed; nothing falls between."""
    con = excise_books(
        {
            "shipments": [ship(date(2026, 2, 2), "barrel", 10), ship(date(2026, 5, 4), "barrel", 4, "S2"),
                          ship(date(2026, 8, 3), "barrel", 4, "S3")],
            "filings": [
                {"area": "US", "site": "main", "period": "2026-Q1", "filed_on": date(2026, 4, 10), "quantity": 9,
                 "amount": Decimal("31.50")},
                {"area": "US", "site": "main", "period": "2026-Q2", "filed_on": date(2026, 7, 10), "quantity": 6,
                 "amount": Decimal("21.00")},
            ],
            "payments": [{"date": date(2026, 4, 10), "area": "US", "period": "2026-Q1", "amount": Decimal("31.50")}],
        }
    )  # fmt: skip
    records, months, owed = con.execute(
        "select (select sum(amount) from excise.duty), (select sum(amount) from excise.duty_months),"
        " (select arg_max(owed, month) from excise.duty_months)"
    ).fetchall()[0]
    returns = con.execute("select sum(to_pay), sum(left_to_pay), sum(increasing), sum(decreasing) from excise.returns")
    assert returns.fetchall() == [(records, owed, Decimal("3.50"), Decimal("7.00"))]
    assert records == months == Decimal("63.00")


def test_a_payment_that_names_no_site_stands_on_one_return_with_those_that_do() -> None:
    con = excise_books({
        "shipments": [ship(date(2026, 2, 2), "barrel", 10)],
        "payments": [{"date": date(2026, 4, day), "area": "US", "site": site, "period": "2026-Q1", "amount": Decimal(amount)}
                     for day, site, amount in ((9, "main", "30.00"), (10, None, "1.50"))],
    })  # fmt: skip
    assert con.execute(
        "select site, paid, left_to_pay from excise.returns where area = 'US' and period = '2026-Q1'"
    ).fetchall() == [("main", Decimal("31.50"), Decimal("3.50"))]


def filed_too_low(first_month: str, **filing: str) -> duckdb.DuckDBPyConnection:
    """A quarter of 200 bbl (400 half barrels, $700) that was filed as 100 bbl, and the quarter after it."""
    year = first_month[:4]
    return books(
        REFERENCE | {
            "opening_goods": GOODS,
            "shipments": [shipped(f"{year}-01-20", 400, "S1"), shipped(f"{year}-05-04", 2, "S2")],
            "filings": [{"area": "US", "site": "main", "period": f"{year}-Q1", "filed_on": f"{year}-04-10", "quantity": "100",
                         "amount": "350.00", **filing}],
        },
        first_month=first_month, more=FILER,
    )  # fmt: skip


def test_interest_runs_on_what_was_filed_too_low_and_compounds_daily() -> None:
    """26 U.S.C. 6601, 6622: from the day it was due (14 April 2025) to the day it is paid, daily; 7 % from memory."""
    con = filed_too_low("2025-01")
    found = rows(con, "select * from excise.adjustments")[0]
    days = (date(2025, 7, 14) - date(2025, 4, 14)).days
    expected = round(350 * ((1 + Decimal("0.07") / 365) ** days - 1), 2)
    assert (found["interest"], found["rate"], found["direction"]) == (expected, Decimal("3.50"), "increasing")
    assert expected == Decimal("6.16") and found["interest_unverified"] is True
    lines = {row["place"]: row for row in rows(
        con, "select * from report.return_lines where month = '2025-05' and area = 'US' and period = '2025-Q2'")}  # fmt: skip
    # F 5000.24: 17 tax 3.50, 18 adjustment 350 with its interest, 19 and 21 their sum.
    assert [(lines[at]["form_line"], lines[at]["amount"]) for at in (1000, 2002, 2003, 3000, 5000)] == [
        ("17", Decimal("3.50")), ("18", 350), ("18", expected), ("19", Decimal("353.50") + expected),
        ("21", Decimal("353.50") + expected),
    ]  # fmt: skip
    assert (lines[2002]["quantity"], lines[2002]["rate"]) == (100, Decimal("3.50"))
    assert "unverified" in lines[2003]["text"]


def test_without_a_known_rate_interest_is_left_open() -> None:
    """The shipped file knows no rate after 2025: nothing is guessed, and nothing is added."""
    con = filed_too_low("2026-01")
    found = rows(con, "select * from excise.adjustments")[0]
    assert found["interest"] is None and found["difference"] == 350
    line = rows(con, "select * from report.return_lines where month = '2026-05' and text like 'interest%'")[0]
    assert line["amount"] is None and "ask the authority" in line["text"]
    assert one(con, "select to_pay from result.returns where area = 'US' and period = '2026-Q2'") == Decimal("353.50")


def test_what_was_filed_too_high_comes_back_without_interest() -> None:
    """27 CFR 25.281: refunded or adjusted without interest."""
    con = filed_too_low("2025-01", quantity="210", amount="735.00")
    found = rows(con, "select * from excise.adjustments")[0]
    assert (found["difference"], found["interest"], found["direction"]) == (-35, 0, "decreasing")


def test_a_loss_of_bulk_beer_on_the_way_is_in_barrels_whatever_the_unit() -> None:
    """27 CFR 25.184: 3100 gal shipped are 100 bbl; 3000 gal came, 3.23 bbl beyond 2 %: a claim for the whole of it."""
    came = [{"date": "2026-03-02", "site": "main", "account": "Other brewery", "beer": "Test Ale", "cost": "9000", "lot": "B1",
             "volume": "3000", "volume_unit": "gal", "quantity_shipped": "3100", "document": "R1",
             "brewed_by": "other"}]  # fmt: skip
    other = [*ACCOUNTS, {"account": "Other brewery", "kind": "other", "area": "US-ME"}]
    con = books(REFERENCE | {"accounts": other, "beer_in": came}, first_month="2026-03", more=FILER)
    assert one(con, "select round(bbl, 2) from excise.claims") == Decimal("3.23")


def test_a_filer_by_half_year_is_read() -> None:
    """Canada knows a half-yearly period; what an area does not know is refused by name."""
    con = excise_books(
        {"shipments": [ship(date(2026, 1, 5), "keg_30L", 10)]}, sites={"main": "CA"}, currency="CAD",
        filers=[{"area": "CA", "return_period": "semiannual"}],
    )  # fmt: skip
    assert con.execute("select distinct length from excise.filers where area = 'CA'").fetchall() == [("semiannual",)]
    periods = con.execute("select from_date, to_date from excise.filer_periods where area = 'CA'").fetchall()
    assert periods == [(date(2026, 1, 1), date(2026, 6, 30))]


@pytest.fixture(scope="module")
def calendar() -> list[dict[str, Any]]:
    done = brewcost("areas", "US", "--calendar", 2026, "--json")
    assert done.returncode == 0, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def test_the_calendar_has_every_length_and_iso_dates(calendar: list[dict[str, Any]]) -> None:
    """26 U.S.C. 5061(d): 14 days after the quarter; 2026-07-14 is a Tuesday."""
    assert {row["length"] for row in calendar} == {"annual", "quarterly", "semimonthly", "semimonthly by EFT"}
    second = next(row for row in calendar if row["period"] == "2026-Q2")
    assert (second["from"], second["to"], second["due"]) == ("2026-04-01", "2026-06-30", "2026-07-14")


def test_the_areas_command_lists_shows_and_dates_the_rates(tmp_path: Path) -> None:
    listed = brewcost("areas", "--json", folder=tmp_path)
    assert {"US", "US-ME", "US-NY-NYC", "GB", "DE"} <= {row["area"] for row in json.loads(listed.stdout)}
    shown = json.loads(brewcost("areas", "us", "--on", "2016-05-01", "--json", folder=tmp_path).stdout)
    # 26 U.S.C. 5051 before 2018: $7 on 60,000 barrels, then $18.
    assert {Decimal(rate["rate"]) for rate in shown["rates"]} == {7, 18}
    assert shown["interest"] == []
    in_2024 = json.loads(brewcost("areas", "US", "--on", "2024-05-01", "--json", folder=tmp_path).stdout)
    assert [(rate["rate_pct"], rate["unverified"]) for rate in in_2024["interest"]] == [("8", True)]
    britain = brewcost("areas", "GB", "--on", "2026-03-01", folder=tmp_path).stdout
    # GOV.UK, Small Producer Relief, from 1 February 2026: under 3.5 %, over 5 up to 50 hL: 49.80 and 2.53.
    assert "(49.8 + 2.53 x (production - 5)) / production off the rate" in britain
    text = brewcost("areas", "US", folder=tmp_path).stdout
    assert "Alcohol and Tobacco Tax and Trade Bureau" in text and "26 U.S.C. 5051" in text and "not tax advice" in text


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("XX",), 2, "no area file for XX"),
        (("US", "--on", "2026-02-30"), 2, "2026-02-30"),
        (("--calendar", "2026"), 2, "are of one area"),
    ],
)
def test_the_areas_command_refuses(words: tuple[str, ...], code: int, said: str, tmp_path: Path) -> None:
    done = brewcost("areas", *words, folder=tmp_path)
    assert done.returncode == code and said in done.stderr and not done.stdout
