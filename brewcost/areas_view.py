"""What `brewcost areas` shows: the areas known, one area's law with its sources, and its calendar."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

from brewcost.area_model import DEFERENCE, Area, AreaError, Rate, Relief, falls_on, plain
from brewcost.areas import load
from brewcost.due_dates import periods


class NoSuchArea(AreaError):
    """There is no file for the area that was asked for."""


def areas_command(
    folder: Path | None = None,
    area: str | None = None,
    on: date | None = None,
    calendar: int | None = None,
    as_json: bool = False,
) -> str:
    """The text, or with `as_json` the JSON, that `brewcost areas [AREA]` prints.

    Args:
        folder: the brewery's folder, for files of its own under areas/; None for the shipped ones only.
        area: the area to show; all areas where None.
        on: only the rates in force that day.
        calendar: in place of the rates, the return periods of this year, of every length the area knows.

    Raises:
        AreaError: a file cannot be used.
        NoSuchArea: there is none for `area`.
    """
    known = load(folder)
    if area is None:
        rows = [_summary(one) for one in known.values()]
        return _json(rows) if as_json else "\n".join(_line(row) for row in rows)
    one = known.get(area.upper())
    if one is None:
        raise NoSuchArea(f"no area file for {area}; `brewcost areas` lists the {len(known)} known ones")
    if calendar is not None:
        days = _calendar(one, calendar)
        return _json(days) if as_json else "\n".join(_period_line(day) for day in days)
    shown = _one(one, on)
    return _json(shown) if as_json else _text(shown)


def _json(value: Any) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False, default=str)


def _summary(area: Area) -> dict[str, Any]:
    return {
        "area": area.area,
        "name": area.texts["name"],
        "authority": area.texts["authority"],
        "currency": area.currency,
        "unverified": any(rate.unverified or not rate.start_known for rate in area.rates),
        "own": area.own,
    }


def _line(row: dict[str, Any]) -> str:
    marks = ("; some rates unverified" if row["unverified"] else "") + ("; the brewery's own file" if row["own"] else "")
    return f"{row['area']:<15} {row['name']} ({row['authority']}){marks}"


def _calendar(area: Area, year: int) -> list[dict[str, str | None]]:
    return [
        {
            "length": period.length,
            "period": period.period,
            "from": period.from_date.isoformat(),
            "to": period.to_date.isoformat(),
            "due": period.due_date.isoformat() if period.due_date else None,
            "pay": period.pay_date.isoformat() if period.pay_date else None,
        }
        for rule in area.periods
        for period in periods(rule.length, rule.due, rule.pay, year, year)
    ]


def _period_line(row: dict[str, str | None]) -> str:
    due = row["due"] or "not in the sources read"
    pay = f", payment {row['pay']}" if row["pay"] not in (None, row["due"]) else ""
    return f"{row['length']:<18} {row['period']:<10} {row['from']} to {row['to']}  due {due}{pay}"


def _one(area: Area, on: date | None) -> dict[str, Any]:
    def in_force(first: date, last: date | None) -> bool:
        return on is None or first <= on <= (last or on)

    rates = [rate for rate in area.rates if in_force(rate.from_date, rate.to_date)]
    return {
        "area": area.area,
        "name": area.texts["name"],
        "authority": area.texts["authority"],
        "licence_authority": area.texts["licence_authority"],
        "edition": area.texts["edition"],
        "file": area.file,
        "own": area.own,
        "taxes": list(area.tax_classes),
        "who_pays": area.texts["payer"],
        "who_pays_source": area.texts["payer_source"],
        "falls_at": area.texts["event"],
        "currency": area.currency,
        "rounding": {
            kind: {"places": r.places, "mode": r.mode, "scope": r.scope, "source": r.source}
            for kind, r in area.rounding.items()
        },
        "periods": [{"length": rule.length, "source": rule.source} for rule in area.periods],
        "default_period": area.texts["default_period"],
        "on": on.isoformat() if on else None,
        "rates": [row for rate in rates for row in _rates(rate)],
        "reliefs": [_relief(r, area.texts["production_unit"]) for r in area.reliefs if in_force(r.from_date, r.to_date)],
        "remissions": [
            {"name": r.name, "cap": str(r.cap), "from": r.from_date.isoformat(),
             "to": r.to_date.isoformat() if r.to_date else None, "source": r.source,
             "checked": r.checked.isoformat() if r.checked else None, "unverified": r.unverified}
            for r in area.remissions if in_force(r.from_date, r.to_date)
        ],
        "interest": [
            {"rate_pct": str(i.rate_pct), "compounded": i.compounded, "from": i.from_date.isoformat(),
             "to": i.to_date.isoformat() if i.to_date else None, "source": i.source, "unverified": i.unverified}
            for i in area.interest if in_force(i.from_date, i.to_date)
        ],
        "incomplete": area.texts["incomplete"],
        "credits_not_computed": [f"{c.name}: {c.text} ({c.source})" for c in area.credits],
        "notes": list(area.notes),
        "caution": DEFERENCE,
    }


def _rates(rate: Rate) -> list[dict[str, Any]]:
    return [
        {
            "tax": rate.tax,
            "band": band.name,
            "up_to": str(band.up_to) if band.up_to is not None else None,
            "rate": str(band.rate),
            "basis": rate.basis if rate.per == 1 else f"{rate.per} {rate.basis}",
            "from": rate.from_date.isoformat(),
            "start_known": rate.start_known,
            "to": rate.to_date.isoformat() if rate.to_date else None,
            "producer": rate.producer,
            "falls_on": falls_on(rate),
            "source": rate.source,
            "checked": rate.checked.isoformat() if rate.checked else None,
            "unverified": rate.unverified,
        }
        for band in rate.bands
    ]


def _relief(relief: Relief, unit: str | None) -> dict[str, Any]:
    over, up_to, base, marginal = map(plain, (relief.over, relief.up_to, relief.base, relief.marginal))
    return {
        "production": f"over {over} up to {up_to} {unit or ''}".rstrip(),
        "relief": f"{plain(relief.percent)} % of the rate is payable" if relief.kind == "percent"
        else f"({base} + {marginal} x (production - {over})) / production off the rate",
        "from": relief.from_date.isoformat(),
        "to": relief.to_date.isoformat() if relief.to_date else None,
        "producer": relief.producer,
        "falls_on": falls_on(relief),
        "source": relief.source,
        "unverified": relief.unverified,
    }  # fmt: skip


def _text(shown: dict[str, Any]) -> str:
    def span(row: dict[str, Any]) -> str:
        return f"from {row['from']}" + (f" to {row['to']}" if row["to"] else "")

    def falls(row: dict[str, Any]) -> list[str]:
        return [*([f"producer: {row['producer']}"] if row["producer"] else []), *row["falls_on"]]

    lines = [
        f"{shown['area']}  {shown['name']}" + ("  (the brewery's own file)" if shown["own"] else ""),
        f"authority: {shown['authority']}",
        f"licence: {shown['licence_authority'] or 'not in the sources read'}",
        f"edition: {shown['edition']}",
        f"who pays: {shown['who_pays']} ({shown['who_pays_source'] or 'not in the sources read'})",
        f"duty falls at: {shown['falls_at']}",
        f"return periods: {', '.join(p['length'] for p in shown['periods'])}; default {shown['default_period']}",
    ]
    lines += [
        f"rounding of {kind}: {r['places']} decimals, {r['mode'].replace('_', ' ')}, each {r['scope']} ({r['source']})"
        for kind, r in shown["rounding"].items()
    ]
    lines.append(f"rates in {shown['currency']}" + (f" on {shown['on']}" if shown["on"] else "") + ":")
    for rate in shown["rates"]:
        doubt = "unverified" if rate["unverified"] else f"checked {rate['checked']}"
        if not rate["start_known"]:
            doubt += ", start date not in the source"
        what = "; ".join([f"{rate['tax']}, {rate['band']}", span(rate), *falls(rate)])
        lines.append(f"  {rate['rate']} a {rate['basis']}: {what}")
        lines.append(f"      {rate['source']} ({doubt})")
    if not shown["rates"]:
        lines.append("  none known")
    for relief in shown["reliefs"]:
        lines.append("; ".join([f"  small producer, {relief['production']}: {relief['relief']}", *falls(relief)]))
        lines.append(f"      {relief['source']}" + (" (unverified)" if relief["unverified"] else ""))
    for one in shown["remissions"]:
        where = "where brewery.toml says remission = true"
        lines.append(f"  {one['name']}: all duty up to {one['cap']} a year, {where}: {span(one)}")
        lines.append(f"      {one['source']} ({'unverified' if one['unverified'] else 'checked ' + one['checked']})")
    for rate in shown["interest"]:
        lines.append(f"  interest {rate['rate_pct']} % a year, compounded {rate['compounded']}: {span(rate)}")
        lines.append(f"      {rate['source']}" + (" (unverified)" if rate["unverified"] else ""))
    lines += [f"incomplete: {shown['incomplete']}"] if shown["incomplete"] else []
    lines += [f"named, not computed: {credit}" for credit in shown["credits_not_computed"]]
    lines += [f"note: {note}" for note in shown["notes"]]
    return "\n".join([*lines, shown["caution"]])
