"""journal.csv: the month's journal as a file that a ledger can take in."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brewcost.plain_text import guarded
from brewcost.trouble import replacing

if TYPE_CHECKING:
    import duckdb

HEADINGS = ("date", "account", "debit", "credit", "text", "document")


def write(con: duckdb.DuckDBPyConnection, month: str, folder: Path) -> Path:
    """Write the journal of a month, in whole cents, to journal.csv in its folder.

    Args:
        con: the computed books.
        month: such as `2026-03`.
        folder: the month's folder under out/.

    Returns:
        The file. Dates are ISO, amounts have a decimal point and two digits, one of debit and credit is blank.

    Raises:
        OSError: the file cannot be written, or is open in another program.
    """
    lines = con.execute(
        "select date, account, debit, credit, text, document from report.journal where month = $month order by entry, line",
        {"month": month},
    ).fetchall()
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "journal.csv"
    with replacing(path) as unfinished, unfinished.open("w", encoding="utf-8-sig", newline="") as out:
        _write_lines(out, lines)
    return path


def _write_lines(out: Any, lines: Iterable[tuple[Any, ...]]) -> None:
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    for date, account, debit, credit, text, document in lines:
        writer.writerow((date.isoformat(), guarded(account), _amount(debit), _amount(credit), guarded(text), guarded(document)))


def _amount(value: Any) -> str:
    return "" if value is None else f"{value:.2f}"
