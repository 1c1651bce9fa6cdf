"""The journal (K6), the ledger (K9) and journal.csv: small invented books, each figure worked out beside it."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from small_books import MALT, REFERENCE, books, failed_controls, rows

from brewcost import journal, settings

PLACE = {"site": "main"}


def balances(con: Any, month: str = "2026-01") -> dict[str, Decimal]:
    """Account name to debits less credits of a month, accounts that come to nothing left out."""
    found = rows(con, "select account_name, sum(debit - credit) as amount from result.journal where month = ? "
                      "group by account_name having sum(debit - credit) <> 0", [month])  # fmt: skip
    return {row["account_name"]: row["amount"] for row in found}


def estimated(invoice_date: str) -> Any:
    """100 lb estimated at 90, invoiced at 100 and 5 freight."""
    return books(
        {
            "materials": MALT,
            "receipts": [PLACE | {"date": "2026-01-03", "material": "malt", "quantity": 100, "unit": "lb", "cost": 90,
                                  "document": "PO-1", "estimated": "yes"}],
            "invoices": [{"date": invoice_date, "document": "=INV-1", "receipt_document": "PO-1", "material": "malt",
                          "cost": 100, "freight": 5}],
        }
    )  # fmt: skip


def test_an_estimated_receipt_stands_in_goods_received_not_invoiced_until_its_invoice() -> None:
    con = estimated("2026-02-10")
    assert balances(con) == {"materials": 105, "goods received not invoiced": -105}
    assert balances(con, "2026-02") == {"goods received not invoiced": 105, "payables": -105}
    assert not failed_controls(con)


def test_a_delivery_to_an_own_location_is_no_sale() -> None:
    line = {"beer": "Test Ale", "package": "half_bbl"} | PLACE
    con = books(
        REFERENCE
        | {
            "accounts": [{"account": "Test house", "kind": "own_location", "area": "US-ME"},
                         {"account": "Test shop", "kind": "retailer", "area": "US-ME"}],
            "opening_goods": [line | {"units": 10, "cost": 500}],
            "shipments": [
                line | {"document": "D1", "date": "2026-01-05", "account": "Test house", "units": 2, "purpose": "own_location",
                        "unit_price": 90},
                line | {"document": "D2", "date": "2026-01-06", "account": "Test shop", "units": 3, "purpose": "sale",
                        "unit_price": 100, "freight": 7},
            ],
        }
    )  # fmt: skip
    found = balances(con)
    assert found["sales"] == -300 and found["receivables"] == 300
    assert found["cost of beer delivered to own locations"] == 100
    assert found["cost of goods sold"] == 150
    assert found["finished goods"] == -250
    assert found["freight out"] == 7
    assert not failed_controls(con)


def test_a_ledger_balance_that_differs_from_the_roll_forward_fails_k9() -> None:
    ledger = [{"month": "2026-01", "account": "1200", "balance": "105.00"},
              {"month": "2026-02", "account": "Materials", "balance": "104.99"}]  # fmt: skip
    con = books(
        {
            "materials": MALT,
            "receipts": [PLACE | {"date": "2026-01-03", "material": "malt", "quantity": 100, "unit": "lb", "cost": 105},
                         PLACE | {"date": "2026-02-03", "material": "malt", "quantity": 1, "unit": "lb", "cost": 0}],
            "ledger": ledger,
        }
    )  # fmt: skip
    [failed] = failed_controls(con)
    assert (failed["control"], failed["month"], failed["difference"]) == ("K9", "2026-02", Decimal("0.01"))


def test_journal_csv_balances_in_cents_and_nothing_in_it_is_a_formula(tmp_path: Path) -> None:
    path = journal.write(estimated("2026-01-10"), "2026-01", tmp_path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        lines = list(csv.DictReader(file))
    assert tuple(lines[0]) == journal.HEADINGS
    assert sum(Decimal(line["debit"] or 0) - Decimal(line["credit"] or 0) for line in lines) == 0
    assert {line["document"] for line in lines} == {"PO-1", "'=INV-1"}
    assert not [cell for line in lines for cell in line.values() if cell.startswith(journal.FORMULA_STARTS)]


def test_cents_follow_the_balance_and_never_drift() -> None:
    # Three uses of a third of 1.00: 0.333333, 0.333333, 0.333334. In cents each month's step of the balance: 0.33, 0.34, 0.33.
    con = books(
        {
            "materials": MALT,
            "accounts": [{"account": "Test buyer", "kind": "other"}],
            "opening_materials": [PLACE | {"material": "malt", "quantity": 3, "unit": "lb", "cost": 1}],
            "uses": [PLACE | {"date": f"2026-0{month}-05", "material": "malt", "quantity": 1, "unit": "lb",
                              "account": "Test buyer", "income": 0} for month in (1, 2, 3)],
        }
    )  # fmt: skip
    credits = [row["credit"] for row in rows(con, "from report.journal where account = '1200' order by month")]
    assert credits == [Decimal("0.33"), Decimal("0.34"), Decimal("0.33")]


def test_account_numbers_come_from_brewery_toml() -> None:
    con = books(
        {"materials": MALT, "receipts": [PLACE | {"date": "2026-01-03", "material": "malt", "quantity": 1, "unit": "lb",
                                                  "cost": 5}]},
        more='[accounts]\nmaterials = "1430"\n"duty_payable US" = "2310"',
    )  # fmt: skip
    assert {row["account"] for row in rows(con, "from result.journal")} == {"1430", "2000"}


def test_an_account_that_is_not_in_the_chart_is_refused() -> None:
    with pytest.raises(settings.SettingsError, match="cellar is not a setting"):
        settings.parse({"name": "x", "first_month": "2026-01", "sites": [{"site": "main", "area": "US"}],
                        "accounts": {"cellar": "1"}})  # fmt: skip
