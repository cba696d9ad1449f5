"""Text that a spreadsheet would run as a formula, written so that it does not, and read back."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_MARK = "'"


def would_run(text: str) -> bool:
    """Whether a spreadsheet would take the text for a formula.

    White space before the sign does not make it harmless (OWASP, CSV Injection).
    """
    return text.startswith(FORMULA_STARTS) or text.lstrip().startswith(FORMULA_STARTS)


def inert(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would take it for a formula.

    A text that begins with an apostrophe gets another, so that ``live`` gives each back.
    """
    return _MARK + text if would_run(text) or text.startswith(_MARK) else text


def live(cell: str) -> str:
    """The text that ``inert`` was given."""
    return cell[1:] if cell.startswith(_MARK) else cell
