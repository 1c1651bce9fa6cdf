"""The flows of cost between records, and the trees that walking them back gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import datetime as dt

    import duckdb

SIXTH = Decimal("0.000001")
# A layer of stock is named by site and material, or site, beer, package (joined by this), and its number.
JOINT = chr(31)


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

    def as_json(self, levels: int | None = None, depth: int = 0, whole: Decimal | None = None) -> dict[str, Any]:
        """The tree as plain values, to so many levels below the figure; `share_pct` is the part of the level above."""
        said: dict[str, Any] = {"what": self.what, "amount": str(self.amount), "unit": self.unit}
        if whole:
            said["share_pct"] = str((100 * self.amount / whole).quantize(Decimal("0.01")))
        if self.file:
            said |= {"file": self.file, "sheet": self.sheet, "row": self.row}
        if self.parts and levels != depth:
            said["parts"] = [part.as_json(levels, depth + 1, self.amount) for part in self.parts]
        return said

    def lines(self, levels: int | None = None, depth: int = 0, whole: Decimal | None = None) -> list[str]:
        """The tree as lines of text, each level indented under the one above, to so many levels below the figure; no shares
        of a difference, which are parts of little by much."""
        share = f" ({100 * self.amount / whole:.1f} %)" if whole else ""
        place = f"  [{self.file}{f', {self.sheet}' if self.sheet else ''}, row {self.row}]" if self.file else ""
        said = [f"{'  ' * depth}{self.what}: {self.amount:,.2f} {self.unit}{share}{place}"]
        if levels == depth:
            return said
        differs = any(part.amount < 0 for part in self.parts) and any(part.amount > 0 for part in self.parts)
        below = None if differs else self.amount
        return said + [line for part in self.parts for line in part.lines(levels, depth + 1, below)]


class Flows:
    """What flows into what in one set of computed books; what flows into a subject is read once."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self.con = con
        [(self.currency,)] = con.execute("select currency from result.books").fetchall()
        self.known: dict[tuple[str, str], list[dict[str, Any]]] = {}

    def node(self, what: str, parts: Sequence[Node], unit: str | None = None) -> Node:
        """A node that is the sum of its parts."""
        return Node(what, sum((part.amount for part in parts), Decimal(0)), unit or self.currency, parts=tuple(parts))

    def event(self, what: str, row: dict[str, Any]) -> Node:
        """An amount of the tables with the record it is, or what flowed into it (`from_kind`, `from_key`)."""
        place = (row["file"], row["sheet"], row["row"])
        parts = self.behind(row["from_kind"], row["from_key"], {"all": row["amount"]}, row.get("date"), place)
        return Node(what, row["amount"], self.currency, *place, parts)

    def as_booked(
        self, tree: Node, booked: Decimal | None, table: str, figures: Sequence[str], month: str, names: Sequence[str]
    ) -> Node:
        """A tree of what is computed now, brought to the figure as it stands in a closed month, or as an open one carries it,
        by the corrections that make the difference.

        Args:
            tree: what the records say now.
            booked: the figure in the result tables; None: there is none.
            table: the result table it stands in.
            figures: its columns there; one with a minus before it is taken off.
            month: its month.
            names: what its row is about.
        """
        if booked is None or booked == tree.amount:
            return tree
        found = rows(self.con, _CORRECTIONS, {"table": table, "figures": list(figures), "month": month,
                                              "names": [name.lower() for name in names]})  # fmt: skip
        parts = [
            Node(f"{row['subject']}, booked in {row['booked_month']}: {row['caused_by']}", row["amount"], tree.unit,
                 row["file"], row["sheet"], row["row"])
            for row in found
        ]  # fmt: skip
        late = self.node("records that came after the month was closed", parts, tree.unit)
        if late.amount != booked - tree.amount:
            late = Node(late.what, booked - tree.amount, tree.unit)
        return Node(tree.what, booked, tree.unit, parts=(*tree.parts, late))

    def layers(self, query: str, kind: str, chosen: dict[str, Any]) -> list[dict[str, Any]]:
        """The layers of a stock that a month begins with, as flows."""
        return [
            {"from_kind": kind, "from_name": row["layer"], "from_key": row["layer"], "element": "all", "amount": row["cost"],
             "date": None, "file": None, "sheet": None, "row": None}
            for row in rows(self.con, query, chosen) if row["cost"]
        ]  # fmt: skip

    def behind(
        self, kind: str | None, key: str | None, amounts: dict[str, Decimal], date: dt.date | None = None,
        place: tuple[Any, ...] | None = None,
    ) -> tuple[Node, ...]:
        """What stands behind amounts (by element) of a source: of a lot what came in up to the day, of a document with many
        lines the line at the place."""
        if kind is None or key is None:
            return ()
        flows = self.flows(kind, key, date if kind == "lot" else None)
        if kind == "shipment" and place is not None:
            flows = [flow for flow in flows if (flow["file"], flow["sheet"], flow["row"]) == place]
        return self.grouped(share(flows, amounts))

    def flows(self, kind: str, name: str, until: dt.date | None = None) -> list[dict[str, Any]]:
        """What flowed into a subject, to the end of a day where one is given."""
        key = (kind, name.lower())
        if key not in self.known:
            self.known[key] = rows(
                self.con, "select * from result.cost_flows where to_kind = $kind and lower(to_name) = $name "
                "order by from_kind, from_name, element, date, file, sheet, row", {"kind": kind, "name": key[1]},
            )  # fmt: skip
        return [flow for flow in self.known[key] if until is None or flow["date"] is None or flow["date"] <= until]

    def grouped(self, flows: list[dict[str, Any]]) -> tuple[Node, ...]:
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
            behind = self.behind(kind, inside, amounts, date, (file, sheet, row))
            if kind == "material" and len(behind) == 1:
                nodes.append(behind[0])  # by fifo a layer is one receipt
                continue
            shown = name if name.startswith(kind) else f"{kind} {name}"
            if kind in ("layer", "material"):
                shown = f"stock {(inside or name).rpartition(' ')[0].replace(JOINT, ' · ')}"
            nodes.append(Node(shown, sum(amounts.values(), Decimal(0)), self.currency, file, sheet, row, behind))
        return tuple(nodes)


MATERIAL_LEFT = """
    select stock.item || ' ' || stock.layer as layer, stock.cost
    from stock_left('cost.material_walk', 'cost.material_layers', 'cost.material_takings', 'cost.material_layer_costs',
        (select materials_method from reference.settings), $month) as stock
    join (select distinct item from cost.material_walk where lower(material) = lower($material)
        and ($site is null or site = $site)) using (item)
    order by all"""
# A correction stands in the month in which it is booked, and is not in the month that is closed.
_CORRECTIONS = """
    with corrected as (
        select *, unnest([booked_month, closed_month]) as at_month, unnest([difference, -difference]) as amount
        from result.corrections
        where result_table = $table
    )
    select corrected.subject, corrected.booked_month, coalesce(corrected.caused_by, '') as caused_by,
        (case when list_contains($figures, '-' || corrected.figure) then -corrected.amount else corrected.amount end)
            ::decimal(18,6) as amount,
        late.file, late.sheet, late.row
    from corrected
    left join result.late_records as late on late.booked_month = corrected.booked_month
        and corrected.caused_by = concat_ws(', ', late.file, late.sheet) || ' row ' || late.row || ' (' || late.change || ')'
    where corrected.at_month = $month and (corrected.at_month = corrected.closed_month or $table = 'journal')
        and list_has_any($figures, [corrected.figure, '-' || corrected.figure])
        and list_has_all(string_split(lower(corrected.subject), ' · '), $names)
    order by corrected.booked_month, corrected.closed_month, corrected.subject, corrected.figure"""


def rows(con: duckdb.DuckDBPyConnection, query: str, values: dict[str, Any]) -> list[dict[str, Any]]:
    """A query's rows by the names of its columns."""
    cursor = con.execute(query, values)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def share(flows: list[dict[str, Any]], amounts: dict[str, Decimal]) -> list[dict[str, Any]]:
    """The part of what flowed into a source that an amount of it carries: element by element; an amount that is not told by
    element, or a source that is not, is spread over all."""
    shared = []
    for element, amount in amounts.items():
        of_element = [flow for flow in flows if element == "all" or flow["element"] in (element, "all")]
        parts = spread(amount, [flow["amount"] for flow in of_element])
        shared += [flow | {"amount": part} for flow, part in zip(of_element, parts, strict=True) if part]
    return shared


def spread(amount: Decimal, weights: Sequence[Decimal]) -> list[Decimal]:
    """An amount spread by weight, the remainder of rounding on the largest part; nothing where there is no weight."""
    whole = sum(weights, Decimal(0))
    if not whole:
        return [Decimal(0)] * len(weights)
    parts = [(weight * amount / whole).quantize(SIXTH, ROUND_HALF_UP) for weight in weights]
    largest = max(range(len(parts)), key=lambda place: abs(parts[place]))
    parts[largest] += amount - sum(parts)
    return parts
