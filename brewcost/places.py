"""Where the files that stand beside the package are: in a checkout at its top, in an installed wheel inside it."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _beside(name: str) -> Path:
    inside = _PACKAGE / "_data" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def sql_dir() -> Path:
    """The folder of SQL files, numbered in build order."""
    return _beside("sql")


def reports_dir() -> Path:
    """The folder of report definitions, one TOML a workbook."""
    return _beside("reports")


def sample_dir() -> Path:
    """The invented sample brewery."""
    return _beside("sample_inputs")
