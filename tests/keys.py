"""Whether the tables have the keys that their headers name.

The computed tables declare none: an index is held in memory and would be larger than the table it guards.
"""

from __future__ import annotations

import re

import duckdb

from brewcost import steps


def broken(con: duckdb.DuckDBPyConnection) -> list[str]:
    """The tables in which a key stands twice, or whose header names a column they have not."""
    wrong = []
    keys = {step.table: re.sub(r"\([^)]*\)", "", step.header["key"]).strip() for step in steps.find()}
    for step in steps.find():
        key = keys[step.table]
        columns = keys.get(key.removeprefix("that of "), key).split(", ")
        if "." not in step.table or columns[0].startswith("none"):
            continue
        table = con.table(step.table)
        if missing := set(columns) - set(table.columns):
            wrong.append(f"{step.table} has no column {sorted(missing)}")
        elif table.project(", ".join(columns)).distinct().shape[0] != table.shape[0]:
            wrong.append(f"{step.table}: {', '.join(columns)}")
    return wrong
