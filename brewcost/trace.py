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
FORMS = ("lot NAME", "run NAME", "brew NAME", "move NAME", "shipment DOCUMENT", "goods BEER PACKAGE MONTH",
         "material NAME MONTH", "expense KIND MONTH", "duty AREA PERIOD")  # fmt: skip
# A layer of stock is named by site and material, or site, beer, package (joined by this), and its number.
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
    return Tracer(con).explain(what)


class Tracer:
    """The trees of one set of computed books; what flows into a subject is read once."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self.con = con
        [(self.currency,)] = con.execute("select currency from result.books").fetchall()
        self.known: dict[tuple[str, str], list[dict[str, Any]]] = {}

    def explain(self, what: Sequence[str]) -> Node:
        """As `explain`."""
        match what:
            case ["lot" | "run" | "brew" | "move" | "shipment" as kind, name]:
                return self._whole(f"{kind} {name}", kind, name, f"no {kind} {name!r} that holds any cost in these books")
            case ["expense", kind, month]:
                return self._whole(f"{kind} {month}", "expense", f"{kind}{_JOINT}{month}", f"no {kind!r} in {month}")
            case ["duty", area, period]:
                return _duty(self.con, area.upper(), period)
            case ["goods", beer, package, month]:
                return self._stock(f"{package} of {beer}", month, _GOODS, _GOODS_LEFT, "layer",
                                   {"beer": beer, "package": package})  # fmt: skip
            case ["material", material, month]:
                return self._stock(material, month, _MATERIAL, _MATERIAL_LEFT, "material", {"material": material})
        raise TraceError(f"{' '.join(what)!r} cannot be explained; say one of: {'; '.join(FORMS)}")

    def _whole(self, shown: str, kind: str, name: str, nothing: str) -> Node:
        flows = self._flows(kind, name)
        if not flows:
            raise TraceError(nothing)
        return Node(shown, sum((flow["amount"] for flow in flows), Decimal(0)), self.currency, parts=self._grouped(flows))

    def _flows(self, kind: str, name: str, until: dt.date | None = None) -> list[dict[str, Any]]:
        """What flowed into a subject, to the end of a day where one is given."""
        key = (kind, name.lower())
        if key not in self.known:
            self.known[key] = _rows(
                self.con, "select * from result.cost_flows where to_kind = $kind and lower(to_name) = $name "
                "order by from_kind, from_name, element, date, file, sheet, row", {"kind": kind, "name": key[1]},
            )  # fmt: skip
        return [flow for flow in self.known[key] if until is None or flow["date"] is None or flow["date"] <= until]

    def _grouped(self, flows: list[dict[str, Any]]) -> tuple[Node, ...]:
        """The flows with one node for each source and record, and under it what stands behind the source."""
        sources: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
        for flow in flows:
            key = tuple(flow[name] for name in ("from_kind", "from_name", "from_key", "date", "file", "sheet", "row"))
            sources.setdefault(key, []).append(flow)
        nodes = []
        for (kind, name, inside, date, file, sheet, row), parts in sources.items():
            amounts: dict[str, Decimal] = {}
            for part in parts:
                amounts[part["element"]] = amounts.get(part["element"], Decimal(0)) + part["amount"]
            behind: tuple[Node, ...] = ()
            if inside is not None:
                behind = self._grouped(_share(self._flows(kind, inside, date if kind == "lot" else None), amounts))
            if kind == "material" and len(behind) == 1:
                nodes.append(behind[0])  # by fifo a layer is one receipt
                continue
            shown = name if name.startswith(kind) else f"{kind} {name}"
            if kind in ("layer", "material"):
                shown = f"stock {(inside or name).rpartition(' ')[0].replace(_JOINT, ' · ')}"
            nodes.append(Node(shown, sum(amounts.values(), Decimal(0)), self.currency, file, sheet, row, behind))
        return tuple(nodes)

    def _stock(self, what: str, month: str, moved: str, left: str, kind: str, names: dict[str, str]) -> Node:
        """A stock at the end of a month: the layers it opened with, and the movements of the month."""
        rows = _rows(self.con, moved, names | {"month": month})
        if not rows:
            raise TraceError(f"no {what} up to {month} in these books")
        layers = [
            {"from_kind": kind, "from_name": row["layer"], "from_key": row["layer"], "element": "all",
             "amount": row["cost"], "date": None, "file": None, "sheet": None, "row": None}
            for row in _rows(self.con, left, names | {"month": month}) if row["cost"]
        ]  # fmt: skip
        parts = [Node("opening", sum((layer["amount"] for layer in layers), Decimal(0)), self.currency,
                      parts=self._grouped(layers))]  # fmt: skip
        now = [row for row in rows if row["month"] == month]
        for movement in dict.fromkeys(row["kind"] for row in now):
            leaves = tuple(
                Node(f"{movement} {row['document']}".strip(), row["cost"], self.currency, row["file"], row["sheet"], row["row"])
                for row in now if row["kind"] == movement and row["cost"]
            )  # fmt: skip
            parts.append(Node(movement, sum((leaf.amount for leaf in leaves), Decimal(0)), self.currency, parts=leaves))
        return Node(f"{what} {month}, at the end", sum((part.amount for part in parts), Decimal(0)), self.currency,
                    parts=tuple(parts))  # fmt: skip


_GOODS = """
    select month, kind, document, cost, file, sheet, row
    from cost.goods_moves
    where lower(beer) = lower($beer) and lower(package) = lower($package) and month <= $month
    order by date, site, seq"""
_GOODS_LEFT = """
    select stock.item || ' ' || stock.layer as layer, stock.cost
    from stock_left('cost.goods_walk', 'cost.goods_layers', 'cost.goods_takings', 'cost.goods_layer_costs',
        (select goods_method from reference.settings), $month) as stock
    join (select distinct item from cost.goods_walk where lower(beer) = lower($beer) and lower(package) = lower($package))
        using (item)
    order by all"""
_MATERIAL = """
    select month, case kind when 'receipt' then 'received' when 'use' then 'used' else kind end as kind,
        coalesce(brew, lot, run, account, pool, '') as document, cost_in - used_cost + short_cost + counted_cost as cost,
        file, sheet, row
    from cost.material_moves
    where lower(material) = lower($material) and month <= $month
    order by date, site, seq"""
_MATERIAL_LEFT = """
    select stock.item || ' ' || stock.layer as layer, stock.cost
    from stock_left('cost.material_walk', 'cost.material_layers', 'cost.material_takings', 'cost.material_layer_costs',
        (select materials_method from reference.settings), $month) as stock
    join (select distinct item from cost.material_walk where lower(material) = lower($material)) using (item)
    order by all"""


def _rows(con: duckdb.DuckDBPyConnection, query: str, values: dict[str, Any]) -> list[dict[str, Any]]:
    cursor = con.execute(query, values)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _share(flows: list[dict[str, Any]], amounts: dict[str, Decimal]) -> list[dict[str, Any]]:
    """The part of what flowed into a source that an amount of it carries: element by element, the remainder of rounding on
    the largest; an amount that is not told by element, or a source that is not, is spread over all."""
    shared = []
    for element, amount in amounts.items():
        of_element = [flow for flow in flows if element == "all" or flow["element"] in (element, "all")]
        whole = sum((flow["amount"] for flow in of_element), Decimal(0))
        if not whole or not amount:
            continue
        parts = [(flow["amount"] * amount / whole).quantize(SIXTH, ROUND_HALF_UP) for flow in of_element]
        largest = max(range(len(parts)), key=lambda place: abs(parts[place]))
        parts[largest] += amount - sum(parts)
        shared += [flow | {"amount": part} for flow, part in zip(of_element, parts, strict=True) if part]
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
