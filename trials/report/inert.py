"""Text that a spreadsheet shows and never runs."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def inert(cell: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would take it for a formula.

    White space before the sign does not make it harmless (OWASP, CSV Injection).
    """
    runs = cell.startswith(FORMULA_STARTS) or cell.lstrip().startswith(FORMULA_STARTS)
    return f"'{cell}" if runs else cell
