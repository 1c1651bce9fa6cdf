"""Close, late record, correction, next month: for each kind of record, on small invented books (issue: the close)."""

from __future__ import annotations

import csv
import json
import shutil
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pytest
from explained import BOOKED, held
from small_books import REFERENCE, codes, compute, failed_controls, one, rows, write_books

from brewcost import closing, pipeline, places, report, trace, what_if
from brewcost.acceptances import accept
from brewcost.books import Books

JAN, FEB, MAR = "2026-01", "2026-02", "2026-03"
SITE = {"site": "main"}
GOODS = SITE | {"beer": "Test Ale", "package": "half_bbl"}
POOLS = """
[kegs]
deposit = 30

[[pools]]
pool = "rent"
stage = "cellar"
driver = "tank_days"
behaviour = "fixed"
normal_driver = 20

[[filers]]
area = "US"
return_period = "quarterly"
reduced_rate_quota_bbl = 60000
"""


def malt(day: str, quantity: int, **more: Any) -> dict[str, Any]:
    return SITE | {"date": day, "material": "malt", "quantity": quantity, "unit": "lb"} | more


def brew(number: int, day: str, made: int) -> dict[str, Any]:
    return SITE | {"brew": f"W{number}", "date": day, "beer": "Test Ale", "lot": f"L{number}", "vessel": "F1",
                   "volume_unit": "bbl", "end_of_boil": made + 1, "into_fermenter": made}  # fmt: skip


def run(number: int, day: str, filled: int, **more: Any) -> dict[str, Any]:
    return SITE | {"run": f"R{number}", "line": 1, "date": day, "lot": f"L{number}", "package": "half_bbl",
                   "filled": filled} | more  # fmt: skip


def out(document: str, day: str, units: int) -> dict[str, Any]:
    return GOODS | {"document": document, "line": 1, "date": day, "account": "Test shop", "units": units, "purpose": "sale",
                    "unit_price": 100}  # fmt: skip


RECORDS: dict[str, list[dict[str, Any]]] = {
    **REFERENCE,
    "accounts": [{"account": "Test shop", "kind": "retailer", "area": "US-ME"},
                 {"account": "Test house", "kind": "own_location", "area": "US-ME"}],
    "materials": [{"material": "malt", "kind": "malt", "stock_unit": "lb", "extract_pct": 80, "standard_price": 1}],
    "recipes": [{"beer": "Test Ale", "material": "malt", "quantity_per_bbl": 50, "unit": "lb"}],
    "opening_materials": [SITE | {"material": "malt", "quantity": 1000, "unit": "lb", "cost": 900}],
    "opening_goods": [GOODS | {"units": 20, "cost": 1000}],
    "receipts": [malt("2026-01-03", 3000, cost=3100, document="PO-1"), malt("2026-02-03", 1500, cost=1700, document="PO-2")],
    "brews": [brew(1, "2026-01-05", 20), brew(2, "2026-01-20", 20), brew(3, "2026-02-10", 20)],
    "uses": [malt("2026-01-05", 1010, brew="W1"), malt("2026-01-20", 990, brew="W2"), malt("2026-02-10", 1007, brew="W3")],
    "packaging": [run(1, "2026-01-15", 38, lot_emptied="yes"), run(2, "2026-02-05", 37, lot_emptied="yes"),
                  run(3, "2026-03-05", 37, lot_emptied="yes")],
    "shipments": [out("D1", "2026-01-25", 15), out("D2", "2026-02-25", 40), out("D3", "2026-03-20", 30),
                  out("H1", "2026-01-25", 4) | {"account": "Test house", "purpose": "own_location"},
                  out("H2", "2026-02-25", 4) | {"account": "Test house", "purpose": "own_location"}],
    "labour": [SITE | {"date": "2026-01-05", "stage": "brewhouse", "hours": 8, "cost": 200, "brew": "W1"}],
    "expenses": [SITE | {"month": month, "pool": "rent", "amount": 500} for month in (JAN, FEB, MAR)],
    "prices": [],
}  # fmt: skip

# A late record of each kind; a name after a blank tells several of a kind apart.
LATE: dict[str, dict[str, Any]] = {
    "receipts": malt("2026-01-02", 100, cost=250, document="PO-0"),
    "invoices": {"date": "2026-02-10", "document": "INV-1", "receipt_document": "PO-1", "material": "malt", "cost": "33.33"},
    "uses": malt("2026-01-21", 77, lot="L2"),
    "brews": brew(4, "2026-01-28", 10),
    "packaging": run(1, "2026-01-15", 1) | {"line": 2},
    "moves": SITE | {"move": "M1", "date": "2026-01-22", "from_lot": "L2", "volume_out": 1, "volume_unit": "bbl",
                     "reason": "sample"},
    "shipments": out("D0", "2026-01-10", 7),
    "returns": GOODS | {"document": "C1", "line": 1, "date": "2026-01-29", "account": "Test shop", "units": 1,
                        "outcome": "restocked", "original_document": "D1", "credit": 90},
    "credits": {"document": "C2", "date": "2026-01-29", "account": "Test shop", "amount": "12.34", "reason": "price"},
    "counts": GOODS | {"date": "2026-01-31", "quantity": 38},
    "empties": SITE | {"date": "2026-01-30", "account": "Test shop", "package": "half_bbl", "units": 3, "outcome": "back"},
    "counts house": {"date": "2026-01-31", "account": "Test house", "quantity": 1} | GOODS,
    "labour": SITE | {"date": "2026-01-20", "stage": "brewhouse", "hours": 3, "cost": 77, "brew": "W2"},
    "expenses": SITE | {"month": JAN, "pool": "rent", "amount": "61.07"},
    "byproducts": SITE | {"date": "2026-01-20", "kind": "spent_grain", "quantity": 500, "unit": "lb", "income": 21},
    "beer_in": GOODS | {"date": "2026-01-11", "account": "Test shop", "units": 4, "cost": 180, "document": "B1"},
    "payments": {"date": "2026-01-30", "area": "US", "period": "2026-Q1", "amount": 25},
    "repacks": SITE | {"document": "K1", "date": "2026-01-26", "from_beer": "Test Ale", "from_package": "half_bbl",
                       "from_units": 2, "to_beer": "Test Ale", "to_package": "sixth_bbl", "to_units": 6},
}  # fmt: skip


@pytest.fixture(scope="module")
def closed_january(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_books(tmp_path_factory.mktemp("closing") / "books", RECORDS, more=POOLS, own_houses="counted")
    assert pipeline.build(Books(folder)).good
    closing.close(Books(folder), JAN, "Test controller")
    return folder


def add(folder: Path, kind: str, record: dict[str, Any]) -> None:
    """One more record in a file of its own."""
    with (folder / "inputs" / f"{kind}-late.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(record))
        writer.writeheader()
        writer.writerow(record)


def shown(con: duckdb.DuckDBPyConnection, month: str) -> dict[str, list[Any]]:
    """Every frozen table's rows of a month; that they are untouched (K10) is asked only once they are frozen."""
    found = {name: con.execute(f"select * from result.{name} where month = ? order by all", [month]).fetchall()
             for name in (*closing.BY_MONTH, "controls")}  # fmt: skip
    found["controls"] = [row for row in found["controls"] if row[1] != "K10"]
    return found


ROLLS = {
    "material_months": (("site", "material"), ("qty", "cost")),
    "lot_months": (("site", "lot"), ("bbl", "cost")),
    "goods_months": (("site", "beer", "package"), ("units", "bbl", "cost")),
    "house_stock_months": (("account", "beer", "package"), ("units", "cost")),
}


@pytest.mark.parametrize("late_record", LATE)
def test_a_late_record_moves_no_closed_figure_and_is_corrected_in_the_first_open_month(
    closed_january: Path, tmp_path: Path, late_record: str
) -> None:
    kind = late_record.split()[0]
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    as_closed = shown(Books(folder).reading(), JAN)
    add(folder, kind, LATE[late_record])
    never_closed = tmp_path / "never closed"
    shutil.copytree(folder, never_closed, ignore=shutil.ignore_patterns("closed"))
    fresh = compute(never_closed)
    assert not failed_controls(fresh) and not codes(fresh), "the late record must fit the books"

    con = compute(folder)
    assert not failed_controls(con)
    assert shown(con, JAN) == as_closed, "a frozen figure moved"
    for table, (keys, measures) in ROLLS.items():
        total = {measure: f"sum(opening_{measure} + correction_{measure})" for measure in measures}
        for measure in measures:
            query = f"select {', '.join(keys)}, {total[measure]} as amount, sum(closing_{measure}) as closing from " \
                    f"result.{table} where month = ? group by all having amount <> 0 or closing <> 0 order by all"  # fmt: skip
            assert con.execute(query, [FEB]).fetchall() == fresh.execute(query, [FEB]).fetchall(), (table, measure)
    # The ledger ends where it would have ended, had the record come in time.
    accounts = "select account, closing from result.account_months where month = '2026-03' and closing <> 0 order by all"
    assert con.execute(accounts).fetchall() == fresh.execute(accounts).fetchall()
    # So does the owner's year: his figures lead to the accounts of income and expense, corrections on a line of their own.
    left, profit = (
        f"select {figure} where month = '2026-03' and {which}" for figure, which in (
            ("year_to_date from report.margin_figures", "figure = 'left, as in the profit accounts'"),
            ("-sum(closing) from result.account_months join reference.chart using (role)", "of_profit")))  # fmt: skip
    assert one(con, left) == one(fresh, left) == one(con, profit)
    assert rows(con, "from result.corrections"), "a difference that nobody is told of"
    assert not rows(con, "from result.corrections where booked + difference <> recomputed or booked_month <> '2026-02'")
    # Each difference names the record behind it.
    assert {row["caused_by"] for row in rows(con, "from result.corrections")} == {f"{kind}-late.csv row 2 (new)"}
    [late] = rows(con, "from result.late_records")
    assert (late["change"], late["kind"], late["file"], late["row"]) == ("new", kind, f"{kind}-late.csv", 2)
    # frozen + corrections = recomputed, figure by figure.
    amounts = "select kind, detail, amount from result.period_expenses where month = '2026-01'"
    booked = {row[:2]: row[2] for row in con.execute(amounts).fetchall()}
    for row in rows(con, "from result.corrections where result_table = 'period_expenses'"):
        key = tuple(row["subject"].split(" · ")[1:])
        booked[key] = booked.get(key, Decimal(0)) + row["difference"]
    recomputed = {row[:2]: row[2] for row in fresh.execute(amounts).fetchall()}
    assert {key: value for key, value in booked.items() if value} == recomputed
    # The sheet says what is booked in whole cents, and every figure in words.
    assert one(con, "select coalesce(sum(debit), 0) - coalesce(sum(credit), 0) from report.correction_entries") == 0
    assert {row["month"] for row in rows(con, "from report.correction_entries")} <= {FEB}
    shown_words = rows(con, "from report.corrections")
    assert len(shown_words) == len(rows(con, "from result.corrections"))
    assert not [row for row in shown_words if "_" in row["figure"] or "_" in row["stands_in"]]


def test_a_figure_as_booked_is_explained_by_the_records_and_by_those_that_came_late(
    closed_january: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    for kind in ("receipts", "shipments", "returns", "labour", "expenses", "payments"):
        add(folder, kind, LATE[kind])
    con = compute(folder)
    assert not failed_controls(con)
    without = {name for name, query in BOOKED.items() if not held(con, query)}
    assert without == {"price variance by lot", "price variance by run", "usage variance by run"}, "brews take all the malt"
    tree = trace.explain(con, ("material", "malt", JAN)).as_json()
    assert tree["parts"][-1]["what"] == "records that came after the month was closed"
    [late] = tree["parts"][-1]["parts"]
    assert (late["file"], late["row"]) == ("receipts-late.csv", 2)


def test_a_correction_is_booked_once(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    add(folder, "receipts", LATE["receipts"])
    assert pipeline.build(Books(folder)).good
    closing.close(Books(folder), FEB, "Test controller")
    con = compute(folder)
    assert not failed_controls(con)
    assert {row["booked_month"] for row in rows(con, "from result.corrections")} == {FEB}
    assert one(con, "select sum(abs(correction_cost)) from result.material_months where month = '2026-03'") == 0
    assert not rows(con, "from result.journal where kind = 'corrections' and month = '2026-03'")


def test_without_late_records_nothing_is_corrected(closed_january: Path) -> None:
    con = compute(closed_january)
    assert not rows(con, "from result.corrections")
    assert not rows(con, "from result.journal where kind = 'corrections'")
    assert not failed_controls(con)


def changed(folder: Path, kind: str, old: str, new: str) -> None:
    path = folder / "inputs" / f"{kind}.csv"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_lot_that_is_emptied_in_another_month_than_it_was_closed_with_has_one_page(
    closed_january: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    changed(folder, "packaging", "R1,1,2026-01-15", "R1,1,2026-02-03")
    con = compute(folder)
    pages = rows(con, "from report.lot_heads where lot = 'L1'")
    assert [(row["month"], row["loss_bbl"]) for row in pages] == [(FEB, 1)]


def test_an_opening_balance_that_changes_after_a_close_is_refused_and_says_what_to_do(
    closed_january: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    changed(folder, "opening_goods", ",1000", ",1100")
    [found] = rows(compute(folder), "from result.problems where code = 'opening-after-close'")
    assert (found["severity"], found["file"], found["row"]) == ("error", "opening_goods.csv", 2)
    assert "since 2026-01 was closed" in found["message"] and "reopen" in found["action"]


def test_what_if_of_a_closed_month_compares_what_the_records_give(closed_january: Path) -> None:
    changes = what_if.parse({"prices": {"Test Ale": "+5"}})
    _, lines, said = what_if.compare(Books(closed_january), JAN, changes)
    [revenue] = [line for line in lines if (line.subject, line.figure) == ("all beers", "revenue")]
    assert revenue.difference == 19 * 5
    assert any("2026-01 is closed" in text for text in said)


def test_a_frozen_row_that_somebody_changed_fails_k10(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    path = folder / "closed" / JAN / "margins.parquet"
    con = duckdb.connect()
    con.read_parquet(str(path)).project("* replace (revenue + 1 as revenue)").write_parquet(str(path))
    con = compute(folder)
    assert ("K10", JAN) in {(row["control"], row["month"]) for row in failed_controls(con)}
    [told] = rows(con, "from result.problems where code = 'control-failed' and field = 'K10'")
    assert told["month"] == JAN and "closed/2026-01/margins.parquet" in told["message"]
    assert "put the folder closed/ back" in told["action"]


def test_a_close_json_that_somebody_changed_is_named_by_the_close_after_it(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    pipeline.build(Books(folder))
    closing.close(Books(folder), FEB, "Test controller")
    path = folder / "closed" / JAN / "close.json"
    path.write_text(path.read_text(encoding="utf-8").replace("Test controller", "Somebody"), encoding="utf-8")
    [told] = rows(compute(folder), "from result.problems where code = 'control-failed' and field = 'K10'")
    assert told["month"] == FEB and "closed/2026-01/close.json" in told["message"]


def of_close(name: str, value: Any = None) -> Any:
    """A close.json that says something else of itself, or nothing."""

    def change(closed: Path) -> None:
        path = closed / JAN / "close.json"
        said = json.loads(path.read_text(encoding="utf-8"))
        said.pop(name) if value is None else said.update({name: value})
        path.write_text(json.dumps(said), encoding="utf-8")

    return change


TAMPERED: dict[str, tuple[str, Any]] = {
    "a list": (f"{JAN}/close.json", lambda closed: (closed / JAN / "close.json").write_text("[]", encoding="utf-8")),
    "no text": (f"{JAN}/close.json", lambda closed: (closed / JAN / "close.json").write_bytes(b"\xff\x00")),
    "no close.json": (f"{JAN}/close.json", lambda closed: (closed / JAN / "close.json").unlink()),
    "another month": (f"{JAN}/close.json", of_close("month", "2026-13")),
    "a number": (f"{JAN}/close.json", of_close("month", 5)),
    "no tables": (f"{JAN}/close.json", of_close("tables")),
    "a list of tables": (f"{JAN}/close.json", of_close("tables", [])),
    "no close before": (f"{JAN}/close.json", of_close("close_before")),
    "cut short": (f"{JAN}/journal.parquet", lambda closed: (closed / JAN / "journal.parquet").write_bytes(
        (closed / JAN / "journal.parquet").read_bytes()[:-20])),
    "garbage": (f"{JAN}/margins.parquet", lambda closed: (closed / JAN / "margins.parquet").write_bytes(b"garbage")),
    "another table": (f"{JAN}/margins.parquet", lambda closed: shutil.copy(
        closed / JAN / "journal.parquet", closed / JAN / "margins.parquet")),
    "gone": (JAN, lambda closed: shutil.rmtree(closed / JAN)),
    "all gone": (JAN, lambda closed: shutil.rmtree(closed)),
}  # fmt: skip


@pytest.mark.parametrize("case", TAMPERED)
def test_a_folder_closed_that_somebody_damaged_is_named_and_no_fault(
    closed_january: Path, tmp_path: Path, case: str
) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    pipeline.build(Books(folder))
    named, change = TAMPERED[case]
    change(folder / "closed")
    with pytest.raises(closing.ClosingError, match="put the folder closed/ back from a copy") as told:
        pipeline.build(Books(folder))
    assert str(folder / "closed" / named) in str(told.value)


def test_a_copy_of_a_closed_month_is_no_closed_month(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    shutil.copytree(folder / "closed" / JAN, folder / "closed" / "2026-02 - Copy")
    assert [one.month for one in closing.read(Books(folder))] == [JAN]


def test_a_month_is_not_closed_again_below_a_closed_one(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    books = Books(folder)
    pipeline.build(books)
    (folder / "closed" / JAN).rename(folder / "closed" / FEB)
    of = folder / "closed" / FEB / "close.json"
    of.write_text(of.read_text(encoding="utf-8").replace('"month": "2026-01"', '"month": "2026-02"'), encoding="utf-8")
    with pytest.raises(closing.ClosingError, match="2026-01 cannot be closed while 2026-02 is"):
        closing.close(books, JAN, "Test controller")


def test_months_are_closed_in_order_and_only_without_errors(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    books = Books(folder)
    with pytest.raises(closing.ClosingError, match="2026-02 is open"):
        closing.close(books, MAR, "Test controller")
    with pytest.raises(closing.ClosingError, match="closed already"):
        closing.close(books, JAN, "Test controller")
    with pytest.raises(closing.ClosingError, match="not a month"):
        closing.close(books, "2027-01", "Test controller")
    add(folder, "shipments", out("D9", "2026-02-26", 5000))
    assert not pipeline.build(books).good
    with pytest.raises(closing.ClosingError, match="cannot be closed: 1 findings"):
        closing.close(books, FEB, "Test controller")


def test_a_reopened_month_moves_again_and_what_was_frozen_is_kept(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    add(folder, "receipts", LATE["receipts"])
    with pytest.raises(closing.ClosingError, match="not closed"):
        closing.reopen(Books(folder), FEB, "Test controller", "a test")
    kept = closing.reopen(Books(folder), JAN, "Test controller", "a late receipt")
    assert "a late receipt" in (kept / "reopen.json").read_text(encoding="utf-8")
    assert (kept / "margins.parquet").exists()
    con = compute(folder)
    assert not rows(con, "from result.corrections")
    assert one(con, "select received_cost from result.material_months where month = '2026-01'") == 3350


def test_a_changed_and_a_deleted_record_are_named_with_what_they_said(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    given = [dict(record) for record in RECORDS["expenses"]]
    given[0]["amount"] = 520  # changed: rent of January
    write_books(folder, RECORDS | {"expenses": given, "labour": []}, more=POOLS, own_houses="counted")
    (folder / "inputs" / "labour.csv").unlink()
    con = compute(folder)
    assert not failed_controls(con)
    late = {row["change"]: row for row in rows(con, "from result.late_records")}
    assert late.keys() == {"changed", "gone"}
    assert (late["changed"]["file"], late["changed"]["row"]) == ("expenses.csv", 2)
    assert '"amount":500' in late["changed"]["before_cells"] and '"amount":520' in late["changed"]["cells"]
    assert late["gone"]["file"] == "labour.csv" and '"cost":200' in late["gone"]["before_cells"]
    blamed = {row["caused_by"] for row in rows(con, "from result.corrections where result_table = 'capacity'")}
    assert blamed == {"expenses.csv row 2 (changed)"}


def test_a_record_that_only_moves_to_another_row_or_file_is_no_late_record(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    write_books(folder, RECORDS | {"uses": RECORDS["uses"][::-1]}, more=POOLS, own_houses="counted")
    (folder / "inputs" / "receipts.csv").rename(folder / "inputs" / "receipts-of-the-year.csv")
    con = compute(folder)
    assert not rows(con, "from result.late_records") and not rows(con, "from result.corrections")


def test_changed_settings_are_named(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    write_books(folder, RECORDS, more=POOLS.replace("normal_driver = 20", "normal_driver = 40"), own_houses="counted")
    con = compute(folder)
    assert not failed_controls(con)
    assert {row["caused_by"] for row in rows(con, "from result.corrections")} == {"brewery.toml (changed)"}


def test_a_late_removal_changes_neither_the_closed_month_nor_the_filed_return_but_the_next_ones(
    closed_january: Path, tmp_path: Path
) -> None:
    # X10: what was filed stands; the difference is on the first return after it that is not filed, and in the open month.
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    before = "select quantity, amount from result.duty_months where area = 'US-ME' and month = '2026-01'"
    con = Books(folder).reading()
    [(quantity, amount)] = con.execute(before).fetchall()
    con.close()
    add(folder, "filings", {"area": "US-ME", "period": "2026-01", "filed_on": "2026-02-10", "quantity": quantity,
                            "amount": amount})  # fmt: skip
    add(folder, "shipments", LATE["shipments"])
    con = compute(folder)
    assert not failed_controls(con)
    assert con.execute(before).fetchall() == [(quantity, amount)]
    returns = {row["period"]: row for row in rows(con, "from result.returns where area = 'US-ME'")}
    assert returns["2026-01"]["tax"] == amount
    # Seven half barrels at 0.35 a gallon, 10.85 a barrel, to the cent of the whole return (28-A M.R.S. 1652).
    late = returns["2026-02"]["increasing"]
    assert abs(late - Decimal("37.975")) <= Decimal("0.005") and returns["2026-02"]["decreasing"] == 0
    [months] = rows(con, "from result.duty_months where area = 'US-ME' and month = '2026-02'")
    assert (months["opening"], months["correction"]) == (amount, late)
    posted = "select credit - debit from result.journal where month = '2026-02' and kind = 'corrections' and " \
             "role = 'duty_payable' and area = 'US-ME'"  # fmt: skip
    assert one(con, posted) == late
    [named] = rows(con, "from result.corrections where result_table = 'duty_months' and figure = 'amount' and "
                        "subject like 'US-ME%'")  # fmt: skip
    assert named["difference"] == late and named["caused_by"].startswith("shipments-late.csv row 2 (new)")


@pytest.mark.parametrize(
    ("month", "late", "fit", "stops"),
    [
        (JAN, None, "Closed by Test controller", []),
        (FEB, None, "Fit to close", []),
        (MAR, None, "Fit to close once the months before it are (open: 2026-02)", ["earlier months closed"]),
        (FEB, ("shipments", out("D9", "2026-02-26", 5000)), "NOT fit to close", ["controls that hold", "errors put right"]),
    ],
)
def test_the_first_sheet_and_the_command_agree_on_whether_a_month_can_be_closed(
    closed_january: Path, tmp_path: Path, month: str, late: tuple[str, dict[str, Any]] | None, fit: str, stops: list[str]
) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    if late:
        add(folder, *late)
    books = Books(folder)
    pipeline.build(books)
    with books.reading() as con:
        items = rows(con, "from report.checklist where month = ? order by place", [month])
        assert [item["item"] for item in items if item["stops"]] == stops
        first = report.build(con, month, places.reports_dir() / "month-close.toml").sheets[0]
        said = " ".join(text for text, _ in first.lines)
    assert f"{fit}:" in said or f"{fit}," in said
    left = [item["item"] for item in items if item["state"] != "done" and not item["stops"] and item["item"] != "month closed"]
    assert all(f"{item}: " in said for item in left)
    if stops:
        with pytest.raises(closing.ClosingError):
            closing.close(books, month, "Test controller")
    elif month != JAN:
        closing.close(books, month, "Test controller")


def test_the_checklist_counts_the_warnings_that_somebody_accepted(closed_january: Path, tmp_path: Path) -> None:
    folder = tmp_path / "books"
    shutil.copytree(closed_january, folder)
    add(folder, "counts", LATE["counts"] | {"date": "2026-02-28", "quantity": 1})  # a short count is a warning
    item = "select done_count, all_count, state from report.checklist where item like 'warnings %' and month = '2026-02'"
    pipeline.build(Books(folder))
    with Books(folder).reading() as con:
        outcome = pipeline.outcome(con)
        [(done, of, state)] = con.execute(item).fetchall()
    assert (done, state) == (0, "OPEN") and of > 0
    [warning] = [one for one in outcome.problems if one.code == "count-short"]
    wanted = {"file": warning.file, "row": warning.row}
    accept(folder, outcome.problems, "count-short", wanted, "burst kegs", "Controller", date(2026, 3, 2))
    [(done, of_now, _)] = compute(folder).execute(item).fetchall()
    assert (done, of_now) == (1, of)
