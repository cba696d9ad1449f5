"""What the figures of a closed trial rest on, in words: the digest of its records."""

from __future__ import annotations

from trials.errors import Remedy, Verb, quoted
from trials.model.trial import RecordsDigest, Role
from trials.report.remedies import remedy_words


def rests_on_lines(found: RecordsDigest | None, role: Role | None = None) -> list[str]:
    """The digest of a closed trial's records, and whether they changed since; else nothing.

    ``role`` is that of a page's reader; None is a terminal.
    """
    if found is None or found.closed_on is None:
        return []
    lines = [f"Closed on {found.closed_on}; digest of the records (SHA-256): {found.digest}"]
    if found.changed_after_closing:
        see = Remedy("See what was changed", Verb.HISTORY, quoted(found.trial))
        lines.append(
            "The records were changed after closing. Their digest then was "
            f"{found.at_closing}. {remedy_words(see, role)}"
        )
    elif found.changed_after_closing is None:
        lines.append("It was closed before digests were stored, so later changes cannot be seen.")
    return lines
