"""From a figure back to the records behind it, as a tree whose amounts add up at every level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from brewcost.trace_flows import JOINT, MATERIAL_LEFT, Flows, Node, TraceError, rows
from brewcost.trace_variances import VARIANCES, variance

if TYPE_CHECKING:
    import duckdb

__all__ = ["FORMS", "Node", "TraceError", "Tracer", "explain"]

MARGINS_BY = ("beer", "style", "package", "account", "account-kind", "area")
FORMS = ("lot NAME", "run NAME", "brew NAME", "move NAME", "shipment DOCUMENT", "goods BEER PACKAGE MONTH",
         "material NAME MONTH", "expense KIND MONTH", "duty AREA PERIOD", "margin MONTH",
         f"margin {'|'.join(MARGINS_BY)} NAME MONTH", "account ACCOUNT MONTH", "capacity POOL MONTH", "driver POOL MONTH",
         *VARIANCES)  # fmt: skip


def explain(con: duckdb.DuckDBPyConnection, what: Sequence[str]) -> Node:
    """The tree behind a figure.

    Args:
        con: the computed books.
        what: the words of one of FORMS, such as `("lot", "L0001")`.

    Raises:
        TraceError: no such form, or nothing of that name.
    """
    return Tracer(con).explain(what)


class Tracer(Flows):
    """The trees of one set of computed books."""

    def explain(self, what: Sequence[str]) -> Node:
        """As `explain`."""
        match what:
            case ["lot" | "run" | "brew" | "move" | "shipment" as kind, name]:
                return self._whole(f"{kind} {name}", kind, name, f"no {kind} {name!r} that holds any cost in these books")
            case ["expense", kind, month]:
                tree = self._whole(f"{kind} {month}", "expense", f"{kind}{JOINT}{month}", f"no {kind!r} in {month}")
                return self._booked(tree, _EXPENSE_BOOKED, "period_expenses", "amount", month, {"kind": kind})
            case ["duty", area, period]:
                return _duty(self.con, area.upper(), period)
            case ["goods", beer, package, month]:
                tree = self._stock(f"{package} of {beer}", month, _GOODS, _GOODS_LEFT, "layer",
                                   {"beer": beer, "package": package})  # fmt: skip
                return self._booked(tree, _GOODS_BOOKED, "goods_months", "closing_cost", month,
                                    {"beer": beer, "package": package})  # fmt: skip
            case ["material", material, month]:
                tree = self._stock(material, month, _MATERIAL, MATERIAL_LEFT, "material", {"material": material})
                return self._booked(tree, _MATERIAL_BOOKED, "material_months", "closing_cost", month, {"material": material})
            case ["margin", month]:
                return self._margin("all", "", month)
            case ["margin", by, name, month] if by in MARGINS_BY:
                return self._margin(by, name, month)
            case ["account", account, month]:
                return self._account(account, month)
            case ["capacity", pool, month]:
                return self._capacity(pool, month)
            case ["driver", pool, month]:
                return self._driver(pool, month)
            case ["variance", *which, month] if (found := variance(self, which, month)) is not None:
                return found
        raise TraceError(f"{' '.join(what)!r} cannot be explained; say one of: {'; '.join(FORMS)}")

    def _booked(self, tree: Node, query: str, table: str, figure: str, month: str, names: dict[str, str]) -> Node:
        [(booked,)] = self.con.execute(query, names | {"month": month}).fetchall()
        return self.as_booked(tree, booked, table, [figure], month, list(names.values()))

    def _whole(self, shown: str, kind: str, name: str, nothing: str) -> Node:
        flows = self.flows(kind, name)
        if not flows:
            raise TraceError(nothing)
        return self.node(shown, self.grouped(flows))

    def _stock(self, what: str, month: str, moved: str, left: str, kind: str, names: dict[str, str]) -> Node:
        """A stock at the end of a month: the layers it opened with, and the movements of the month."""
        events = rows(self.con, moved, names | {"month": month})
        if not events:
            raise TraceError(f"no {what} up to {month} in these books")
        layers = self.layers(left, kind, names | {"month": month} | ({"site": None} if kind == "material" else {}))
        parts = [self.node("opening", self.grouped(layers))]
        now = [row for row in events if row["month"] == month]
        for movement in dict.fromkeys(row["kind"] for row in now):
            leaves = tuple(
                Node(f"{movement} {row['document']}".strip(), row["cost"], self.currency, row["file"], row["sheet"], row["row"])
                for row in now if row["kind"] == movement and row["cost"]
            )  # fmt: skip
            parts.append(self.node(movement, leaves))
        return self.node(f"{what} {month}, at the end", parts)

    def _margin(self, by: str, name: str, month: str) -> Node:
        """A margin: what was earned, less what was sold, its duty and its freight, each by the record of it."""
        chosen = {"by": by, "name": name, "month": month}
        lines = rows(self.con, _MARGIN, chosen)
        what = " ".join(("margin", by, name, month) if by != "all" else ("margin", month))
        if not lines:
            raise TraceError(f"no {what} in these books")
        for line in lines:
            if line["amount"] is None:
                place = f"{line['file']}{', ' + line['sheet'] if line['sheet'] else ''}, row {line['row']}"
                raise TraceError(f"{what} is not known: no price for {line['kind']} {line['document']} [{place}]")
        parts = [
            self.node(part, [self.event(f"{line['kind']} {line['document']}", line)
                             for line in lines if line["part"] == part and line["amount"]])
            for part in dict.fromkeys(line["part"] for line in lines)
        ]  # fmt: skip
        [(booked,)] = self.con.execute(_MARGIN_BOOKED, chosen).fetchall()
        return self.as_booked(self.node(what, parts), booked, "margins", ["margin"], month, [name] if name else [])

    def _account(self, account: str, month: str) -> Node:
        """What went through an account in a month, debit less credit: the lines of the journal, and the events under each."""
        chosen = {"account": account, "month": month}
        accounts = rows(self.con, _ACCOUNTS, chosen)
        if not accounts:
            raise TraceError(f"no account {account!r} with a line in {month} in these books")
        lines: dict[tuple[str, ...], list[dict[str, Any]]] = {}
        for event in rows(self.con, _MOVEMENTS, chosen):
            lines.setdefault((event["kind"], event["site"] or "", event["document"], event["text"]), []).append(event)
        parts = []
        for line, events in lines.items():
            shown = " · ".join(word for word in line if word)
            nodes = [node for event in events for node in self._moved(event)]
            parts.append(replace(nodes[0], what=shown) if len(nodes) == 1 else self.node(shown, nodes))
        tree = self.node(f"{' and '.join(row['shown'] for row in accounts)} {month}, debit less credit", parts)
        numbers = [row["account"] for row in accounts]
        return self.as_booked(tree, sum((row["amount"] for row in accounts), Decimal(0)), "journal", ["debit", "-credit"],
                              month, numbers[:1])  # fmt: skip

    def _moved(self, event: dict[str, Any]) -> list[Node]:
        """One movement of an account; one of duty is told by its removals or payments."""
        by_record = {"duty": _DUTY_ACCRUED, "paid": _DUTY_PAID}.get(event["from_kind"])
        if by_record is None:
            return [self.event(event["date"].isoformat(), event)]
        area, month, site = event["from_key"].split(JOINT)
        sign = 1 if event["debited"] else -1
        return [
            Node(row["what"], sign * row["amount"], self.currency, row["file"], row["sheet"], row["row"])
            for row in rows(self.con, by_record, {"area": area, "month": month, "site": site})
        ]

    def _capacity(self, pool: str, month: str) -> Node:
        """What a fixed pool cost: the part that the month's driver absorbed, and the part that stood idle."""
        parts = []
        for row in rows(self.con, _CAPACITY, {"pool": pool, "month": month}):
            key = f"{row['pool']}{JOINT}{month}{JOINT}{row['site']}"
            used = f"{row['actual'].normalize():f} of {row['normal'].normalize():f} {row['driver'].replace('_', ' ')}"
            for part in ("absorbed", "idle"):
                parts.append(Node(f"{part}, {row['site']}: {used} used", row[part], self.currency,
                                  parts=self.behind("pool", key, {"all": row[part]})))  # fmt: skip
        if not parts:
            raise TraceError(f"no fixed pool {pool!r} with a normal capacity in {month} in these books")
        tree = self.node(f"capacity {pool} {month}", parts)
        return self._booked(tree, _CAPACITY_BOOKED, "capacity", "amount", month, {"pool": pool})

    def _driver(self, pool: str, month: str) -> Node:
        """How much of its driver a pool was shared by: each brew, lot or run with what it used."""
        found = rows(self.con, _DRIVER, {"pool": pool, "month": month})
        if not found:
            raise TraceError(f"no pool {pool!r} shared by a driver in {month} in these books")
        unit = found[0]["driver"].replace("_", " ")
        tree = self.node(f"driver {pool} {month}", [
            Node(row["what"], row["weight"], unit, row["file"], row["sheet"], row["row"]) for row in found
        ], unit)  # fmt: skip
        return self._booked(tree, _DRIVER_BOOKED, "capacity", "actual", month, {"pool": pool})


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
_EXPENSE_BOOKED = "select sum(amount) from result.period_expenses where lower(kind) = lower($kind) and month = $month"
_GOODS_BOOKED = """
    select sum(closing_cost) from result.goods_months
    where lower(beer) = lower($beer) and lower(package) = lower($package) and month = $month"""
_MATERIAL_BOOKED = """
    select sum(closing_cost) from result.material_months where lower(material) = lower($material) and month = $month"""
_MARGIN = """
    with chosen as (
        select * from result.margin_lines
        where month = $month and ($by = 'all' or lower($name) = lower(case $by when 'beer' then beer when 'style' then style
            when 'package' then package when 'account' then account when 'account-kind' then account_kind
            when 'area' then area end))
    )
    select unnest(['revenue', 'cost of goods sold', 'duty', 'freight']) as part, kind, document,
        unnest([revenue, -cost_of_goods_sold, -duty, -freight])::decimal(18,6) as amount,
        unnest([null, case kind when 'shipment' then kind when 'serving_tank' then 'move' end, null, null]) as from_kind,
        document as from_key, file, sheet, row
    from chosen
    order by list_position(['revenue', 'cost of goods sold', 'duty', 'freight'], part), file, sheet, row"""
_MARGIN_BOOKED = """
    select case when count(margin) = count(*) then sum(margin) end from result.margins
    where month = $month and ($by = 'all' or lower($name) = lower(case $by when 'beer' then beer when 'style' then style
        when 'package' then package when 'account' then account when 'account-kind' then account_kind
        when 'area' then area end))"""
_ACCOUNTS = """
    select account, account || ' ' || any_value(account_name) as shown, sum(debit - credit) as amount
    from result.journal
    where month = $month
        and (lower(account) = lower($account) or lower(account_name) = lower($account) or role = lower($account))
    group by account
    order by account"""
_MOVEMENTS = """
    with accounts as (
        select distinct role, area from result.journal
        where lower(account) = lower($account) or lower(account_name) = lower($account) or role = lower($account)
    ),
    sides as (
        select *, debit as role, true as debited from result.movements where month = $month
        union all by name
        select * replace (-amount as amount), credit as role, false as debited from result.movements where month = $month
    )
    select sides.kind, sides.site, sides.document, sides.text, sides.date, sides.amount, sides.from_kind, sides.from_key,
        sides.file, sides.sheet, sides.row, sides.debited
    from sides
    join reference.chart using (role)
    join accounts on accounts.role = sides.role
        and accounts.area is not distinct from case when chart.by_area then sides.area end
    order by sides.kind, sides.site, sides.document, sides.text, sides.date, sides.file, sides.sheet, sides.row,
        sides.from_key"""
_DUTY_ACCRUED = """
    select 'removal ' || duty.document as what, duty.amount, removals.file, removals.sheet, removals.row
    from excise.removal_duty as duty
    join excise.removals using (kind, document, line)
    where duty.area = $area and duty.site = $site and duty.month = $month and duty.amount <> 0
    order by removals.file, removals.sheet, removals.row"""
_DUTY_PAID = """
    select 'payment for ' || period as what, amount, file, sheet, row
    from excise.return_records
    where kind = 'payment' and area = $area and site = $site and strftime(date, '%Y-%m') = $month
    order by file, sheet, row"""
_CAPACITY = """
    select site, pool, driver, normal, actual, absorbed, idle
    from cost.pool_months
    where kind = 'pool' and behaviour = 'fixed' and normal is not null and lower(pool) = lower($pool) and month = $month
    order by site"""
_CAPACITY_BOOKED = "select sum(amount) from result.capacity where lower(pool) = lower($pool) and month = $month"
_DRIVER_BOOKED = "select sum(actual) from result.capacity where lower(pool) = lower($pool) and month = $month"
_DRIVER = """
    with fillings as (
        select site, lot, settings.first_day as date, file, sheet, row
        from record.opening_lots
        cross join reference.settings
        union all
        select site, lot, date, file, sheet, row from record.brews
        union all
        select site, to_lot, date, file, sheet, row from record.moves
        union all
        select site, lot, date, file, sheet, row from record.beer_in
    ),
    lots as (
        select site, lot, min({date: date, file: file, sheet: sheet, row: row}) as first
        from fillings
        group by site, lot
    ),
    runs as (
        select run, line, file, sheet, row from record.packaging
        union all
        select run, null, any_value(file), any_value(sheet), min(row) from record.packaging group by run
    )
    select pools.driver,
        case when shares.brew is not null then 'brew ' || shares.brew when shares.lot is not null then 'lot ' || shares.lot
            else concat_ws(' ', 'run', shares.run, 'line', shares.line) end as what,
        shares.weight, coalesce(brews.file, runs.file, lots.first.file) as file,
        coalesce(brews.sheet, runs.sheet, lots.first.sheet) as sheet, coalesce(brews.row, runs.row, lots.first.row) as row
    from cost.pool_shares as shares
    join cost.pool_months as pools using (month, site, kind, pool)
    left join record.brews using (brew)
    left join runs on runs.run = shares.run and runs.line is not distinct from shares.line
    left join lots on lots.site = shares.site and lots.lot = shares.lot
    where shares.kind = 'pool' and lower(shares.pool) = lower($pool) and shares.month = $month
    order by what"""


def _removal(row: dict[str, Any]) -> str:
    """A removal, with what a remission took off its duty where it took something."""
    less = f", {row['amount'] + row['remitted']:,.2f} less {row['remitted']:,.2f} remitted" if row["remitted"] else ""
    return f"removal {row['document']}{less}"


def _duty(con: duckdb.DuckDBPyConnection, area: str, period: str) -> Node:
    found = rows(
        con, "select months.month, lines.document, lines.amount, lines.remitted, removals.file, removals.sheet, removals.row, "
        "months.currency from (select distinct area, site, from_date, to_date, period, currency, "
        "  strftime(from_date, '%Y-%m') as month from result.duty where area = $area and period = $period) as months "
        "join excise.removals on removals.date between months.from_date and months.to_date "
        "join excise.removal_duty as lines using (kind, document, line) "
        "where lines.area = months.area and lines.site = months.site "
        "order by removals.date, lines.document, removals.row", {"area": area, "period": period},
    )  # fmt: skip
    if not found:
        raise TraceError(f"no duty of {area} for {period!r} in these books")
    leaves = tuple(Node(_removal(row), row["amount"], row["currency"], row["file"], row["sheet"], row["row"]) for row in found)
    return Node(f"duty {area} {period}", sum((leaf.amount for leaf in leaves), Decimal(0)), found[0]["currency"], parts=leaves)
