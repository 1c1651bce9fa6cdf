"""Text that a spreadsheet would take for a formula, and run."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """The text for a CSV file: an apostrophe stands before what a spreadsheet would take for a formula."""
    return f"'{text}" if _is_formula(text) else text


def unguarded(text: str) -> str:
    """The text that was guarded."""
    return text[1:] if text.startswith("'") and _is_formula(text) else text


def _is_formula(text: str) -> bool:
    return text.lstrip("'").startswith(FORMULA_STARTS)  # so that guarding can be undone
