"""What a package that was read brought, and whether its records are those here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trials.model.rows import Added, Sheet
from trials.package.reading import Unpacked
from trials.report.package_page import unpacked_page

NEW = Unpacked(Path("z26"), "Z 26", Added(((Sheet.PLOTS, 12),), ()), same_records=True, entries=3)


def test_a_package_brings_rows_and_their_history() -> None:
    page = unpacked_page(NEW)
    assert page.startswith("Z 26 from z26: no file was changed since it was written\n\n")
    assert "plots" in page
    assert "12" in page
    assert page.endswith(
        "\nIts history was imported, 3 changes: tallybed history 'Z 26'"
        "\nThe digest is that of the package: records and figures are the same.\n"
    )


@pytest.mark.parametrize(
    ("entries", "same", "said"),
    [
        (None, None, "\nThe package has no history. Its history here begins today.\n"),
        (0, None, "\nThe store already has this trial and its history.\n"),
        (1, False, "\nThe store also has other records of this trial: figures may differ.\n"),
    ],
)
def test_it_says_what_the_store_had_already(
    entries: int | None, same: bool | None, said: str
) -> None:
    assert unpacked_page(replace(NEW, entries=entries, same_records=same)).endswith(said)
