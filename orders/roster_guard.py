"""Text on its way into a spreadsheet and back: no cell may be taken for a formula."""

from __future__ import annotations

FORMULA_SIGNS = ("=", "+", "-", "@")
GUARD = "'"


def guarded(text: str) -> str:
    """An apostrophe before what a spreadsheet would run; `unguarded` gives the text back."""
    return GUARD + text if text.lstrip(GUARD).startswith(FORMULA_SIGNS) else text


def unguarded(cell: str) -> str:
    return cell.removeprefix(GUARD) if is_guarded(cell) else cell


def is_guarded(cell: str) -> bool:
    return cell.startswith(GUARD) and cell.lstrip(GUARD).startswith(FORMULA_SIGNS)


def reads_as_formula(cell: str) -> bool:
    return cell.startswith(FORMULA_SIGNS)
