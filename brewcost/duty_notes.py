"""What every sheet with duty on it says: whose law was used, how sure it is, and who decides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from brewcost.area_model import DEFERENCE

if TYPE_CHECKING:
    import duckdb


def counted(number: int, what: str) -> str:
    """A number and its noun: `no rows`, `1 row`, `1,200 rows`."""
    return f"{number:,} {what}{'' if number == 1 else 's'}" if number else f"no {what}s"


def duty_notes(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[str, ...]]:
    """What a sheet with duty on it says, by its `duty` key: `named` adds each area's authority and edition,
    `whole` what there is to know of its rates too."""
    missing = con.execute(
        "select distinct value from result.problems where code = 'no-area-file' and value is not null order by value"
    ).fetchall()
    short = [f"No duty is computed for area {area}, which has no area file: that does not mean that none is due."
             for (area,) in missing]  # fmt: skip
    named, whole = [], []
    for area, name, authority, edition, notes, own, incomplete, checked, unverified in con.execute(
        "select area, name, authority, edition, notes, own, incomplete, checked, unverified_count "
        "from report.area_notes order by area"
    ).fetchall():
        named.append(f"{area}, {name}. Authority: {authority}. Rule used: {edition}.")
        whole += [named[-1], *(
            text for text in (
                f"{area}: this is the brewery's own area file, not the one that comes with brewcost." if own else None,
                f"{area}: {incomplete}" if incomplete else None,
                f"{area}: rates last compared with their source on {checked}." if checked else None,
                f"{area}: {counted(unverified, 'rate')} not yet compared with a source (unverified)." if unverified
                else None,
                *(f"{area}: {note}" for note in (notes or "").splitlines()),
            ) if text
        )]  # fmt: skip
    return {"none": (), "short": (*short, DEFERENCE), "named": (*short, *named, DEFERENCE),
            "whole": (*short, *whole, DEFERENCE)}
