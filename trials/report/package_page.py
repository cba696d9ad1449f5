"""What writing a trial's package and reading one say when they are done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.errors import quoted
from trials.report.figures import count
from trials.report.pages import added_sentence, added_table

if TYPE_CHECKING:
    from trials.package import Packed, Unpacked


def packed_page(packed: Packed) -> str:
    """Which files the package has, and what others may do with it."""
    files = [f"  {file:<26}{count(rows, 'row')}" for file, rows in packed.rows]
    if packed.licence is None:
        licence = (
            "You chose no licence, so nobody else may use it. To allow it, write it again "
            "with\n--licence, such as --licence CC-BY-4.0 (anyone who names you may use it)."
        )
    else:
        licence = f"Licence: {packed.licence.title}, {packed.licence.path}"
    head = f"{packed.trial} packed in {packed.folder}"
    persons = (
        "People are named in changes.csv."
        if packed.names
        else "People are numbered in changes.csv, not named."
    )
    history = (
        f"{persons} It contains reasons word for word:\nread them before you share the package."
    )
    return "\n".join([head, *files, "", history, "", licence]) + "\n"


def unpacked_page(unpacked: Unpacked) -> str:
    """What the store gained from the package."""
    added = unpacked.added
    head = f"{unpacked.trial} from {unpacked.folder}: no file was changed since it was written"
    done = added_sentence(added) + _history(unpacked) + _same(unpacked)
    return f"{head}\n\n{added_table(added).text()}\n\n{done}\n"


def _history(unpacked: Unpacked) -> str:
    if unpacked.entries is None:
        return "\nThe package has no history. Its history here begins today."
    if unpacked.entries == 0:
        return "\nThe store already has this trial and its history."
    changes = count(unpacked.entries, "change")
    return f"\nIts history was imported, {changes}: tallybed history {quoted(unpacked.trial)}"


def _same(unpacked: Unpacked) -> str:
    if unpacked.same_records is None:
        return ""
    if unpacked.same_records:
        return "\nThe digest is that of the package: records and figures are the same."
    return "\nThe store also has other records of this trial: figures may differ."
