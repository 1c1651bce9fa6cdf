"""Every figure that `explain` has a form for, and what its tree must be."""

from __future__ import annotations

from decimal import Decimal

import duckdb

from brewcost import trace


def walk(node: trace.Node) -> int:
    """Check a tree; the number of its leaves. Every leaf is a record."""
    if not node.parts:
        # A budget is a setting; what several late records changed together names them in words.
        found = (node.file and (node.row or node.file == "brewery.toml")) or ("booked in" in node.what and ";" in node.what)
        assert found or not node.amount, f"{node.what} {node.amount} has no record"
        return 1
    assert sum((part.amount for part in node.parts), Decimal(0)) == node.amount, node.what
    return sum(walk(part) for part in node.parts)


VARIANCES = {"price": ("material", "beer", "brew", "lot", "run"), "usage": ("material", "beer", "brew", "run"),
             "mix": ("material", "beer", "brew"), "yield": ("material", "beer", "brew")}  # fmt: skip
# The figures of the result tables that a form of `explain` names: the words, and the figure.
FIGURES = {
    "brews": "select ['brew', brew], sum(cost) from cost.brew_costs group by all having sum(cost) <> 0",
    "run_costs": "select ['run', run], sum(total_cost + abnormal_cost) from cost.run_costs group by all",
    "lot_months": "select ['lot', lot], sum(added_cost) + coalesce(sum(opening_cost) filter (month = '2026-01'), 0) "
                  "from result.lot_months group by all having sum(added_cost + opening_cost) <> 0",
    "removals": "select ['shipment', document], sum(cost) from cost.shipment_costs where kind = 'shipment' "
                "group by all having sum(cost) <> 0",
    "serving tanks": "select ['move', document], sum(cost) from cost.shipment_costs where kind = 'serving_tank' "
                     "group by all having sum(cost) <> 0",
    "goods_months": "select ['goods', beer, package, month], sum(closing_cost) from result.goods_months group by all",
    "material_months": "select ['material', material, month], sum(closing_cost) from result.material_months group by all",
    "period_expenses": "select ['expense', kind, month], sum(amount) from result.period_expenses group by all "
                       "having sum(amount) <> 0",
    "duty": "select ['duty', area, period], sum(amount) from result.duty group by all having sum(amount) > 0",
    "margins": "select ['margin', month], sum(margin) from result.margins group by all",
    **{f"margins by {by}": f"select ['margin', '{by}', {by.replace('-', '_')}, month], sum(margin) from result.margins "
                           f"where {by.replace('-', '_')} is not null group by all"
       for by in trace.MARGINS_BY},
    "journal": "select ['account', account, month], sum(debit - credit) from result.journal group by all",
    "capacity": "select ['capacity', pool, month], sum(amount) from result.capacity group by all",
    "drivers": "select ['driver', pool, month], sum(actual) from result.capacity group by all having sum(actual) > 0",
    **{f"{kind} variance by {by}": f"select ['variance', '{kind}', '{by}', {by}, month], sum({kind}_variance) as figure "
                                   f"from result.variances where {by} is not null group by all having figure is not null"
       for kind, subjects in VARIANCES.items() for by in subjects},
    "purchase variances": "select ['variance', 'purchase', material, month], sum(price_variance) "
                          "from result.purchase_variances group by all",
}  # fmt: skip
LABOUR = {
    kind: f"select ['variance', 'labour', '{kind}', stage, month], sum({kind}_variance) as figure from result.labour_variances "
          "group by all having figure is not null"
    for kind in ("rate", "efficiency")
}
OVERHEAD = {
    kind: f"select ['variance', 'overhead', '{kind}', pool, month], sum({kind}_variance) as figure "
          "from result.overhead_variances group by all having figure is not null"
    for kind in ("spending", "efficiency", "volume")
}
HOUSES = "select ['account', role, month], sum(debit - credit) from result.journal " \
         "where role in ('house_stock', 'own_deliveries') group by all"  # fmt: skip


def held(con: duckdb.DuckDBPyConnection, query: str) -> int:
    """Explain every figure of a query and check its tree; how many there were."""
    tracer = trace.Tracer(con)
    figures = con.execute(query).fetchall()
    for words, figure in figures:
        tree = tracer.explain(words)
        assert tree.amount == figure, words
        walk(tree)
    return len(figures)


# The figures that stand in a closed month as they were booked.
BOOKED = {name: query for name, query in FIGURES.items() if name in (
    "goods_months", "material_months", "period_expenses", "margins", "margins by beer", "margins by account", "journal",
    "capacity", "drivers", "purchase variances") or "variance by" in name}  # fmt: skip
