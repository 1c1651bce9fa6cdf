"""From a figure back to the records behind it, as a tree whose amounts add up at every level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import datetime as dt

    import duckdb

SIXTH = Decimal("0.000001")
FORMS = ("lot NAME", "run NAME", "brew NAME", "shipment DOCUMENT", "duty AREA PERIOD", "goods BEER PACKAGE MONTH")
# A layer of goods is named by site, beer, package (joined by this) and its number.
_JOINT = chr(31)


class TraceError(ValueError):
    """There is no such figure; the message says what can be explained."""


@dataclass(frozen=True)
class Node:
    """One part of a figure. `amount` is money (or barrels, as `unit` says); a leaf has the place of its record."""

    what: str
    amount: Decimal
    unit: str
    file: str | None = None
    sheet: str | None = None
    row: int | None = None
    parts: tuple[Node, ...] = field(default=())

    def as_json(self, whole: Decimal | None = None) -> dict[str, Any]:
        """The tree as plain values; `share_pct` is the part of the level above."""
        said: dict[str, Any] = {"what": self.what, "amount": str(self.amount), "unit": self.unit}
        if whole:
            said["share_pct"] = str((100 * self.amount / whole).quantize(Decimal("0.01")))
        if self.file:
            said |= {"file": self.file, "sheet": self.sheet, "row": self.row}
        if self.parts:
            said["parts"] = [part.as_json(self.amount) for part in self.parts]
        return said

    def lines(self, depth: int = 0, whole: Decimal | None = None) -> list[str]:
        """The tree as lines of text, each level indented under the one above."""
        share = f" ({100 * self.amount / whole:.1f} %)" if whole else ""
        place = f"  [{self.file}{f', {self.sheet}' if self.sheet else ''}, row {self.row}]" if self.file else ""
        said = [f"{'  ' * depth}{self.what}: {self.amount:,.2f} {self.unit}{share}{place}"]
        return said + [line for part in self.parts for line in part.lines(depth + 1, self.amount)]


def explain(con: duckdb.DuckDBPyConnection, what: Sequence[str]) -> Node:
    """The tree behind a figure.

    Args:
        con: the computed books.
        what: the words of one of FORMS, such as `("lot", "L0001")`.

    Raises:
        TraceError: no such form, or nothing of that name.
    """
    [(currency,)] = con.execute("select currency from result.books").fetchall()
    if len(what) == 2 and what[0] in ("lot", "run", "brew", "shipment"):
        kind, name = what
        flows = _flows(con, kind, name, None)
        if not flows:
            raise TraceError(f"no {kind} {name!r} that holds any cost in these books")
        return Node(f"{kind} {name}", sum((flow["amount"] for flow in flows), Decimal(0)), currency,
                    parts=_grouped(con, flows, currency))  # fmt: skip
    if len(what) == 3 and what[0] == "duty":
        return _duty(con, what[1].upper(), what[2])
    if len(what) == 4 and what[0] == "goods":
        return _goods(con, what[1], what[2], what[3], currency)
    raise TraceError(f"{' '.join(what)!r} cannot be explained; say one of: {'; '.join(FORMS)}")


def _rows(con: duckdb.DuckDBPyConnection, query: str, values: dict[str, Any]) -> list[dict[str, Any]]:
    cursor = con.execute(query, values)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _flows(con: duckdb.DuckDBPyConnection, kind: str, name: str, until: dt.date | None) -> list[dict[str, Any]]:
    """What flowed into a subject, to the end of a day where one is given."""
    return _rows(
        con, "select * from result.cost_flows where to_kind = $kind and lower(to_name) = lower($name) "
        "and ($until is null or date is null or date <= $until) "
        "order by from_kind, from_name, element, file, sheet, row", {"kind": kind, "name": name, "until": until},
    )  # fmt: skip


def _grouped(con: duckdb.DuckDBPyConnection, flows: list[dict[str, Any]], unit: str) -> tuple[Node, ...]:
    """The flows with one node for each source and record, and under it what stands behind the source."""
    sources: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for flow in flows:
        key = tuple(flow[name] for name in ("from_kind", "from_name", "date", "file", "sheet", "row"))
        sources.setdefault(key, []).append(flow)
    nodes = []
    for (kind, name, date, file, sheet, row), parts in sources.items():
        amounts: dict[str, Decimal] = {}
        for part in parts:
            amounts[part["element"]] = amounts.get(part["element"], Decimal(0)) + part["amount"]
        behind: tuple[Node, ...] = ()
        if kind in ("lot", "brew", "run", "layer"):
            behind = _grouped(con, _share(_flows(con, kind, name, date if kind == "lot" else None), amounts), unit)
        shown = name if name.startswith(kind) else f"{kind} {name}"
        if kind == "layer":
            shown = f"goods {name.replace(_JOINT, ' · ')}"
        nodes.append(Node(shown, sum(amounts.values(), Decimal(0)), unit, file, sheet, row, behind))
    return tuple(nodes)


def _share(flows: list[dict[str, Any]], amounts: dict[str, Decimal]) -> list[dict[str, Any]]:
    """The part of what flowed into a source that an amount of it carries: element by element, the remainder of rounding on
    the largest; an amount that is not told by element is spread over all."""
    shared = []
    for element, amount in amounts.items():
        of_element = [flow for flow in flows if flow["element"] == element or element == "all"]
        whole = sum((flow["amount"] for flow in of_element), Decimal(0))
        if not whole:
            continue
        parts = [(flow["amount"] * amount / whole).quantize(SIXTH, ROUND_HALF_UP) for flow in of_element]
        largest = max(range(len(parts)), key=lambda place: abs(parts[place]))
        parts[largest] += amount - sum(parts)
        shared += [flow | {"amount": part} for flow, part in zip(of_element, parts, strict=True)]
    return shared


def _duty(con: duckdb.DuckDBPyConnection, area: str, period: str) -> Node:
    rows = _rows(
        con, "select months.month, lines.document, lines.amount, removals.file, removals.sheet, removals.row, "
        "months.currency from (select distinct area, site, from_date, to_date, period, currency, "
        "  strftime(from_date, '%Y-%m') as month from result.duty where area = $area and period = $period) as months "
        "join excise.removals on removals.date between months.from_date and months.to_date "
        "join excise.removal_duty as lines using (kind, document, line) "
        "where lines.area = months.area and lines.site = months.site "
        "order by removals.date, lines.document, removals.row", {"area": area, "period": period},
    )  # fmt: skip
    if not rows:
        raise TraceError(f"no duty of {area} for {period!r} in these books")
    leaves = tuple(Node(f"removal {row['document']}", row["amount"], row["currency"], row["file"], row["sheet"], row["row"])
                   for row in rows)  # fmt: skip
    return Node(f"duty {area} {period}", sum((leaf.amount for leaf in leaves), Decimal(0)), rows[0]["currency"], parts=leaves)


def _goods(con: duckdb.DuckDBPyConnection, beer: str, package: str, month: str, currency: str) -> Node:
    rows = _rows(
        con, "select moves.kind, moves.document, moves.cost, moves.month < $month as before, "
        "coalesce(shipments.file, packaging.file, returns.file) as file, "
        "coalesce(shipments.sheet, packaging.sheet, returns.sheet) as sheet, "
        "coalesce(shipments.row, packaging.row, returns.row) as row "
        "from cost.goods_moves as moves "
        "left join record.shipments on moves.kind = 'shipped' and shipments.document = moves.document "
        "  and shipments.line = moves.line "
        "left join record.packaging on moves.kind = 'packaged' and packaging.run = moves.document "
        "  and packaging.line = moves.line "
        "left join record.returns on moves.kind = 'restocked' and returns.document = moves.document "
        "  and returns.line = moves.line "
        "where lower(moves.beer) = lower($beer) and lower(moves.package) = lower($package) and moves.month <= $month "
        "order by moves.date, moves.site, moves.seq", {"beer": beer, "package": package, "month": month},
    )  # fmt: skip
    if not rows:
        raise TraceError(f"no {package} of {beer} up to {month} in these books")
    opening = sum((row["cost"] for row in rows if row["before"]), Decimal(0))
    now = [row for row in rows if not row["before"]]
    parts = [Node("opening", opening, currency)]
    for kind in dict.fromkeys(row["kind"] for row in now):
        leaves = tuple(Node(f"{kind} {row['document']}".strip(), row["cost"], currency, row["file"], row["sheet"], row["row"])
                       for row in now if row["kind"] == kind)  # fmt: skip
        parts.append(Node(kind, sum((leaf.amount for leaf in leaves), Decimal(0)), currency, parts=leaves))
    return Node(f"goods {beer} {package} {month}, at the end", sum((part.amount for part in parts), Decimal(0)), currency,
                parts=tuple(parts))  # fmt: skip
