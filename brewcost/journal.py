"""journal.csv: the month's journal as a file that a ledger can take in."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

HEADINGS = ("date", "account", "debit", "credit", "text", "document")
# A spreadsheet takes text that begins with one of these for a formula, and runs it.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def write(con: duckdb.DuckDBPyConnection, month: str, folder: Path) -> Path:
    """Write the journal of a month, in whole cents, to journal.csv in its folder.

    Args:
        con: the computed books.
        month: such as `2026-03`.
        folder: the month's folder under out/.

    Returns:
        The file. Dates are ISO, amounts have a decimal point and two digits, one of debit and credit is blank.

    Raises:
        PermissionError: the file is open in another program.
    """
    lines = con.execute(
        "select date, account, debit, credit, text, document from report.journal where month = $month order by entry, line",
        {"month": month},
    ).fetchall()
    folder.mkdir(parents=True, exist_ok=True)
    unfinished = folder / "journal.csv.new"
    with unfinished.open("w", encoding="utf-8-sig", newline="") as out:
        _write_lines(out, lines)
    return unfinished.replace(folder / "journal.csv")


def _write_lines(out: Any, lines: Iterable[tuple[Any, ...]]) -> None:
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    for date, account, debit, credit, text, document in lines:
        writer.writerow((date.isoformat(), _plain(account), _amount(debit), _amount(credit), _plain(text), _plain(document)))


def _amount(value: Any) -> str:
    return "" if value is None else f"{value:.2f}"


def _plain(text: str) -> str:
    """The text, with an apostrophe before what a spreadsheet would take for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
