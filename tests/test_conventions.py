"""What the project promises of itself: headers match tables, layers point one way, the README is current."""

from __future__ import annotations

import ast
import re
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import click
import duckdb
import pytest
import readme_tables
from small_books import REFERENCE, books

from brewcost import steps
from brewcost.cli import cli
from brewcost.problems import CODES, LAYER_CODES

ROOT = Path(__file__).parent.parent
STEPS = steps.find()
# From the ground up: a module imports only modules that stand before it.
LAYERS = [
    "places", "trouble", "plain_text", "input_files", "problems", "kinds", "chart",
    "settings_model", "settings", "settings_frames", "books", "steps", "reuse", "comparison", "reconciliation",
    "statistics", "due_dates", "area_model", "areas_check", "areas_frames", "areas", "areas_view", "cells",
    "text_rows", "workbook_rows", "intake", "filled_in", "names", "rules", "records", "acceptances", "closing", "set_aside",
    "pipeline", "what_if_losses", "what_if", "sheets", "charts", "write_workbook", "duty_notes", "report", "beside", "journal",
    "trace_flows",
    "trace_variances", "trace", "form_words", "form_lists", "forms", "start", "cli", "__main__",
]  # fmt: skip


@pytest.fixture(scope="module")
def con() -> duckdb.DuckDBPyConnection:
    return books(REFERENCE)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: f"{step.path.parent.name}/{step.path.stem}")
def test_a_sql_file_makes_the_table_its_header_names_and_reads_only_earlier_ones(
    con: duckdb.DuckDBPyConnection, step: steps.Step
) -> None:
    earlier = [other.table for other in STEPS[: STEPS.index(step)]]
    own = step.header["table"]
    if "." in own:
        schema, name = own.split(".")
        tables = con.execute(
            "select comment from duckdb_tables() where schema_name = ? and table_name = ?", [schema, name]
        ).fetchall()
        assert len(tables) == 1, f"{own} is not there"
        assert step.header["grain"].replace("'", "") in tables[0][0].replace("'", "")
    code = step.code
    schemas = "record|volume|cost|excise|result|closing|control|report|reference"
    read = set(re.findall(rf"\b(?:from|join)\s+\(?\s*((?:{schemas})\.\w+)", code))
    assert read - {own} <= set(earlier), "reads a table that is made later"
    assert code == code.lower() or re.sub(r"'[^']*'", "", code) == re.sub(r"'[^']*'", "", code).lower()


@pytest.mark.parametrize("step", STEPS, ids=lambda step: f"{step.path.parent.name}/{step.path.stem}")
def test_a_header_names_what_its_file_reads(step: steps.Step) -> None:
    if "." not in step.table:
        return  # a macro reads what it is given
    said = step.header["reads"]
    whole = re.findall(r"\b[a-z_]+\*|\b[a-z]+\.\*", said)
    read = {name for name in steps.reads(step) if not any(fnmatch(name, pattern) for pattern in whole)}
    assert read == set(steps.NAME.findall(said)) - {step.table}


def test_no_table_is_made_twice() -> None:
    made = [step.table for step in STEPS if "." in step.table]
    assert len(made) == len(set(made))


def test_every_code_a_finding_can_have_is_listed_with_its_severity() -> None:
    found = set()
    for step in STEPS:
        found |= set(re.findall(r"'([a-z][a-z0-9-]+)' as code", step.text))
    assert found <= LAYER_CODES.keys() | CODES.keys()
    assert not LAYER_CODES.keys() & CODES.keys()
    unused = LAYER_CODES.keys() - found
    assert not unused


@pytest.mark.parametrize("path", sorted((ROOT / "brewcost").glob("*.py")), ids=lambda path: path.stem)
def test_imports_point_down(path: Path) -> None:
    if path.stem == "__init__":
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imported = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("brewcost"):
            inner = node.module.split(".")[1:]
            imported |= set(inner) if inner else {name.name for name in node.names}
        elif isinstance(node, ast.Import):
            imported |= {name.name.split(".")[1] for name in node.names if name.name.startswith("brewcost.")}
    imported.discard("__version__")
    assert imported <= set(LAYERS[: LAYERS.index(path.stem)])


def test_the_readme_has_every_command_and_option_and_its_tables_are_current() -> None:
    readme = readme_tables.README.read_text(encoding="utf-8")
    assert readme_tables.current(readme) == readme, "run python tests/readme_tables.py"
    for name, command in cli.commands.items():
        assert f"brewcost {name}" in readme
        for parameter in command.params:
            if isinstance(parameter, click.Option) and "--help" not in parameter.opts:
                assert parameter.opts[-1] in readme, f"{name} {parameter.opts}"
    for entry in tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["scripts"]:
        assert f"{entry} demo" in readme


def test_the_readme_has_two_commands_that_do_all_their_set_up() -> None:
    blocks = re.findall(r"```sh\n(python3 -m venv.*?)\n```", readme_tables.README.read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) == 2
    assert "brewcost demo" in blocks[0] and "pytest" in blocks[1]
    assert all("pip install" in block and "\n" not in block for block in blocks)


def test_files_stay_small_enough_to_read() -> None:
    long = {path.name: len(path.read_text(encoding="utf-8").splitlines()) for path in (ROOT / "brewcost").glob("*.py")}
    assert {name: lines for name, lines in long.items() if lines > 520} == {}
