"""Shows how files of somebody's own would be read, without judging or storing anything."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trials.model.rows import Known
from trials.records.faults import Faults
from trials.records.files.find import find_files
from trials.records.files.tables import read_tables
from trials.records.mapping.agreement import Agreed, guess_for
from trials.records.mapping.guess import Guess
from trials.records.mapping.plot_labels import plots_of


def guesses_of(paths: Sequence[Path], known: Known, agreed: Agreed) -> tuple[Guess, ...]:
    """How each table in the files would be read that is not one of ours.

    Parameters
    ----------
    paths, known, agreed
        As for ``trials.records.read``; what was agreed before is where a guess starts from.

    Raises
    ------
    RecordsRefused
        A file cannot be read at all.
    """
    faults = Faults()
    plots = plots_of(known)
    found = [
        guess
        for name, path in find_files(paths, faults).items()
        for cells in read_tables(name, path, faults)
        if (guess := guess_for(cells, agreed, plots)) is not None
    ]
    faults.refuse_if_any()
    return tuple(found)
