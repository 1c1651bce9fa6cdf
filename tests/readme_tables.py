"""The README's tables of records and of findings, made from kinds.toml and the list of codes.

`python tests/readme_tables.py` writes them into README.md; a test keeps them current.
"""

from __future__ import annotations

import re
from pathlib import Path

from brewcost.kinds import Field, Kind, dictionary
from brewcost.problems import CODES, LAYER_CODES

README = Path(__file__).parent.parent / "README.md"
GROUPS = {"reference": "Reference records", "opening": "Opening balances", "movement": "Movements"}


def fields() -> str:
    """Every kind with its fields, what each may hold and what it means; `*` marks a required field."""
    parts = []
    for group, title in GROUPS.items():
        parts.append(f"#### {title}\n")
        for kind in dictionary().kinds.values():
            if kind.group == group:
                parts.append(_kind(kind))
    return "\n".join(parts)


def _kind(kind: Kind) -> str:
    lines = [f"`{kind.name}`: {kind.meaning}\n", "| field | holds | meaning |", "| --- | --- | --- |"]
    for field in kind.fields:
        name = f"{field.name}{' *' if field.required else ''}"
        lines.append(f"| {name} | {_holds(field)} | {field.meaning} |".replace("  ", " "))
    return "\n".join(lines) + "\n"


def _holds(field: Field) -> str:
    if field.choices:
        holds = ", ".join(f"`{choice}`" for choice in field.choices)
    elif field.type == "unit":
        holds = ", ".join(f"`{unit}`" for unit in dictionary().units_of(field))
    else:
        holds = {"name": "a name", "flag": "`yes` or `no`", "date": "a date", "month": "a month", "whole": "a whole number",
                 "number": "a number", "money": "money", "area": "a tax area"}.get(field.type, field.type)  # fmt: skip
    if field.signed:
        holds += ", may be negative"
    return holds + (f" (blank: `{field.default}`)" if field.default else "")


def findings() -> str:
    """Every code with its severity and meaning."""
    lines = ["| code | severity | meaning |", "| --- | --- | --- |"]
    lines += [f"| `{code}` | {entry.severity} | {entry.meaning} |" for code, entry in (CODES | LAYER_CODES).items()]
    return "\n".join(lines) + "\n"


def current(readme: str) -> str:
    """The README with both tables as they must be."""
    for name, table in (("fields", fields()), ("findings", findings())):
        pattern = rf"(<!-- {name} -->\n).*?(<!-- end {name} -->)"
        readme = re.sub(pattern, lambda found, table=table: found[1] + table + found[2], readme, flags=re.DOTALL)
    return readme


if __name__ == "__main__":
    README.write_text(current(README.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
