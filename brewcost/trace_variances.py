"""The trees of variances: what was spent by the record of it, less the standard by the record that sets it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from brewcost.trace_flows import JOINT, MATERIAL_LEFT, Flows, Node, TraceError, rows, spread

SUBJECTS = ("material", "beer", "brew", "lot", "run")
VARIANCES = ("variance price|usage|mix|yield material|beer|brew|lot|run NAME MONTH", "variance purchase MATERIAL MONTH",
             "variance labour rate|efficiency STAGE MONTH",
             "variance overhead spending|efficiency|volume POOL MONTH")  # fmt: skip
NOTHING = Decimal(0)


class Side(NamedTuple):
    """One side of a variance: its amount (a standard's below zero), its records, and the column it is spread over them by;
    `deep`: what flowed into a record is told too."""

    what: str
    amount: Decimal
    records: Sequence[dict[str, Any]]
    by: str = "qty"
    deep: bool = False


def variance(flows: Flows, which: Sequence[str], month: str) -> Node | None:
    """The tree of a variance of a month, above zero where more was spent than the standard; None: the words name none.

    Raises:
        TraceError: there is no such variance in the month.
    """
    match which:
        case ["price" | "usage" | "mix" | "yield" as kind, subject, name] if subject in SUBJECTS:
            parts = _of_materials(flows, kind, subject, name, month)
            booked, table, figure = _MATERIALS_BOOKED, "variances", f"{kind}_variance"
        case ["purchase" as kind, name]:
            subject, parts = "material", _of_purchases(flows, name, month)
            booked, table, figure = _PURCHASES_BOOKED, "purchase_variances", "price_variance"
        case ["labour", "rate" | "efficiency" as kind, name]:
            subject, parts = "stage", _of_labour(flows, kind, name, month)
            booked, table, figure = _LABOUR_BOOKED, "labour_variances", f"{kind}_variance"
        case ["overhead", "spending" | "efficiency" | "volume" as kind, name]:
            subject, parts = "pool", _of_overhead(flows, kind, name, month)
            booked, table, figure = _OVERHEAD_BOOKED, "overhead_variances", f"{kind}_variance"
        case _:
            return None
    if not parts:
        raise TraceError(f"no variance {' '.join(which)} {month} in these books")
    tree = flows.node(f"variance {' '.join(which)} {month}", [part for part in parts if part.amount])
    values = {"kind": kind, "subject": subject, "name": name, "month": month}
    [(amount,)] = flows.con.execute(booked, {key: value for key, value in values.items() if f"${key}" in booked}).fetchall()
    return flows.as_booked(tree, amount, table, [figure], month, [name])


def _against(flows: Flows, what: str, *sides: Side) -> Node:
    """What was spent against what should have been."""
    parts = []
    for side in sides:
        amounts = spread(side.amount, [row[side.by] for row in side.records])
        leaves = [
            flows.event(row["what"], row | {"amount": part} | ({} if side.deep else {"from_kind": None}))
            for row, part in zip(side.records, amounts, strict=True) if part
        ]  # fmt: skip
        parts.append(Node(side.what, side.amount, flows.currency, parts=tuple(leaves)))
    return flows.node(what, [part for part in parts if part.amount])


def _of_materials(flows: Flows, kind: str, subject: str, name: str, month: str) -> list[Node]:
    used, standards = _by_subject(flows, _USED, month), _by_subject(flows, _STANDARDS, month)
    trees = []
    for row in rows(flows.con, _MATERIALS, {"subject": subject, "name": name, "month": month}):
        if row[f"{kind}_variance"] is None:
            continue
        material, charged_to = row["material"], next((word for word in ("brew", "lot", "run") if row[word]), "")
        uses, standard = used.get(_subject(row), []), standards.get(_subject(row), [])
        at_standard = row["actual_cost"] - row["price_variance"]
        recipe_cost = row["standard_cost"] or NOTHING
        grist_cost = recipe_cost + (row["yield_variance"] or NOTHING)
        by_recipe = Side("by the recipe, at the standard price", -recipe_cost, standard)
        sides = {
            "price": (Side("what was paid", row["actual_cost"], uses, "cost", deep=True),
                      Side(f"{row['actual_qty'].normalize():f} {row['unit']} at the standard price", -at_standard,
                           _prices(flows, row), "cost", deep=True)),
            "usage": (Side("used, at the standard price", at_standard, uses), by_recipe),
            "mix": (Side("used, at the standard price", grist_cost + (row["mix_variance"] or NOTHING), uses),
                    Side("its share by the recipe in the grist used", -grist_cost, standard)),
            "yield": (Side("its share by the recipe in the grist used", grist_cost, standard), by_recipe),
        }  # fmt: skip
        trees.append(_against(flows, f"{material}, {charged_to} {row[charged_to]}", *sides[kind]))
    return trees


def _prices(flows: Flows, row: dict[str, Any]) -> list[dict[str, Any]]:
    """What a standard price comes from: the material's record, or the stock that the month began with."""
    if row["price_from"] == "material":
        return rows(flows.con, _MATERIAL, {"material": row["material"]})
    names = {"material": row["material"], "site": row["site"]}
    layers = flows.layers(MATERIAL_LEFT, "material", names | {"month": row["month"]})
    if not layers:
        return rows(flows.con, _OPENING, names)
    return [layer | {"what": "stock of the month before", "cost": layer["amount"]} for layer in layers]


def _of_purchases(flows: Flows, name: str, month: str) -> list[Node]:
    chosen = {"name": name, "month": month}
    return [
        _against(
            flows, f"{row['material']}, {row['site']}",
            Side("what was paid", row["received_cost"], rows(flows.con, _RECEIVED, chosen | {"site": row["site"]}), "cost"),
            Side(f"{row['received_qty'].normalize():f} {row['unit']} at the standard price",
                 row["price_variance"] - row["received_cost"], rows(flows.con, _MATERIAL, {"material": row["material"]}),
                 "cost"),
        )
        for row in rows(flows.con, _PURCHASES, chosen)
    ]  # fmt: skip


def _of_labour(flows: Flows, kind: str, name: str, month: str) -> list[Node]:
    trees = []
    for row in rows(flows.con, _LABOUR, {"name": name, "month": month}):
        if row["rate_variance"] is None:
            continue
        place = {"name": name, "month": month, "site": row["site"]}
        hours, standard = rows(flows.con, _HOURS, place), rows(flows.con, _LABOUR_STANDARDS, place)
        at_standard = row["actual_cost"] - row["rate_variance"]
        sides = {
            "rate": (Side("what was paid", row["actual_cost"], hours, "cost"),
                     Side(f"{row['actual_hours'].normalize():f} h at the standard rate", -at_standard, standard, "cost")),
            "efficiency": (Side("hours at the standard rate", at_standard, hours),
                           Side("hours by the standard, at its rate", -row["standard_cost"], standard, "cost")),
        }  # fmt: skip
        trees.append(_against(flows, f"{row['stage']}, {row['site']}", *sides[kind]))
    return trees


def _of_overhead(flows: Flows, kind: str, name: str, month: str) -> list[Node]:
    trees = []
    for row in rows(flows.con, _OVERHEAD, {"name": name, "month": month}):
        if row[f"{kind}_variance"] is None:
            continue
        key = f"{row['pool']}{JOINT}{month}{JOINT}{row['site']}"
        spent = [flow | {"what": flow["from_name"], "cost": flow["amount"]} for flow in flows.flows("pool", key)]
        setting = [{"what": f"[[pools]] {row['pool']}", "cost": Decimal(1), "from_key": None, "file": "brewery.toml",
                    "sheet": None, "row": None}]  # fmt: skip
        used = f"{row['actual_driver'].normalize():f} {row['driver'].replace('_', ' ')} at the standard rate"
        planned = "budget" if row["behaviour"] == "fixed" else used
        applied = f"{row['standard_driver'].normalize():f} by the standard, applied"
        if kind == "spending":
            sides = (Side("what was spent", row["actual_cost"], spent, "cost", deep=True),
                     Side(planned, -row["budget"], setting, "cost"))  # fmt: skip
        else:
            sides = (Side(planned, row["budget"], setting, "cost"), Side(applied, -row["applied"], setting, "cost"))
        trees.append(_against(flows, f"{row['pool']}, {row['site']}", *sides))
    return trees


def _subject(row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[name] for name in ("site", "brew", "lot", "run", "material"))


def _by_subject(flows: Flows, query: str, month: str) -> dict[tuple[Any, ...], list[dict[str, Any]]]:
    found: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for row in rows(flows.con, query, {"month": month}):
        found.setdefault(_subject(row), []).append(row)
    return found


# As computed now; what `_BOOKED` says may be what was frozen.
_MATERIALS = """
    from recomputed('result.variances', 'closing.variances')
    where month = $month and lower($name) = lower(case $subject when 'material' then material when 'beer' then beer
        when 'brew' then brew when 'lot' then lot when 'run' then run end)
    order by material, site, brew, lot, run"""
_MATERIALS_BOOKED = """
    select sum(case $kind when 'price' then price_variance when 'usage' then usage_variance when 'mix' then mix_variance
        when 'yield' then yield_variance end)
    from result.variances
    where month = $month and lower($name) = lower(case $subject when 'material' then material when 'beer' then beer
        when 'brew' then brew when 'lot' then lot when 'run' then run end)"""
_USED = """
    select site, brew, lot, run, material, 'use of ' || material as what, qty, cost, 'use' as from_kind,
        item || ' ' || seq as from_key, file, sheet, row
    from cost.material_charges
    where month = $month
    order by file, sheet, row"""
_STANDARDS = """
    select site, brew, null as lot, run, material, 'standard for ' || material as what, qty, null as from_key, file, sheet, row
    from cost.material_standards
    where month = $month
    order by file, sheet, row"""
_MATERIAL = """
    select 'standard price of ' || material as what, 1::decimal(18,6) as cost, null as from_kind, null as from_key, file, sheet,
        row
    from record.materials
    where material = $material"""
_OPENING = """
    select 'opening stock of ' || material as what, cost, null as from_kind, null as from_key, file, sheet, row
    from record.opening_materials
    where material = $material and site = $site"""
_PURCHASES = """
    from recomputed('result.purchase_variances', 'closing.purchase_variances')
    where month = $month and lower(material) = lower($name)
    order by site"""
_PURCHASES_BOOKED = """
    select sum(price_variance) from result.purchase_variances where month = $month and lower(material) = lower($name)"""
_RECEIVED = """
    select 'receipt of ' || material as what, cost_in as cost, null as from_key, file, sheet, row
    from cost.material_moves
    where kind = 'receipt' and month = $month and site = $site and lower(material) = lower($name)
    order by file, sheet, row"""
_LABOUR = """
    from recomputed('result.labour_variances', 'closing.labour_variances')
    where month = $month and lower(stage) = lower($name)
    order by site"""
_LABOUR_BOOKED = """
    select sum(case $kind when 'rate' then rate_variance else efficiency_variance end)
    from result.labour_variances
    where month = $month and lower(stage) = lower($name)"""
_HOURS = """
    select 'labour ' || stage as what, coalesce(hours, 0) as qty, coalesce(cost, 0) as cost, null as from_key, file, sheet, row
    from record.labour
    where strftime(date, '%Y-%m') = $month and site = $site and lower(stage) = lower($name)
    order by file, sheet, row"""
_LABOUR_STANDARDS = """
    select 'standard for ' || coalesce(beer, 'the beer') || ', ' || bbl || ' bbl' as what, cost, null as from_key, file, sheet,
        row
    from cost.labour_standards
    where month = $month and site = $site and lower(stage) = lower($name)
    order by file, sheet, row, beer"""
_OVERHEAD = """
    from recomputed('result.overhead_variances', 'closing.overhead_variances')
    where month = $month and lower(pool) = lower($name)
    order by site"""
_OVERHEAD_BOOKED = """
    select sum(case $kind when 'spending' then spending_variance when 'efficiency' then efficiency_variance
        else volume_variance end)
    from result.overhead_variances
    where month = $month and lower(pool) = lower($name)"""
