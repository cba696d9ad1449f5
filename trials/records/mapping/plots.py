"""Puts plots' codes in the place of the labels by which somebody's own sheet tells its plots."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import Faults, Places, Wrong, shown
from trials.records.mapping.gaps import without_dittos, without_gaps
from trials.records.mapping.noted import PLOTS
from trials.records.mapping.plot_codes import SPELLED_ALIKE, spelled_alike, trials_numbered
from trials.records.mapping.plot_labels import KnownPlots, label_of
from trials.records.mapping.reading import Question, Reading, distinct

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray


_MOST_NAMES = 20


@dataclass(frozen=True, slots=True)
class Told:
    """The labels by which a table tells its plots: their names, and each lot of them there is."""

    names: tuple[str, ...]
    labels: frozenset[tuple[str, ...]]


def told_by(reading: Reading, cells: Cells) -> Told:
    """The labels of a table under a reading; no names where plots are told by their codes."""
    cells = without_gaps(reading, without_dittos(reading, cells))
    called = dict(reading.called)
    names: list[str] = []
    columns: list[list[str]] = []
    wide: list[str] = []
    for heading, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(heading)
        label = label_of(None if read is None else read.field)
        if label is not None:
            names.append(label)
            columns.append([called.get(text.strip(), text) for text in column.cells()])
        elif read is None:
            wide.append(heading)
    for field, says in reading.always:
        if (label := label_of(field)) is not None:
            names.append(label)
            columns.append([says] * len(cells))
    over = label_of(None if reading.spread is None else reading.spread.headings)
    rows = set(zip(*columns, strict=True)) if columns else {()}
    if over is None:
        return Told(tuple(names), frozenset(row for row in rows if any(row)))
    each = frozenset((*row, heading) for row in rows for heading in wide)
    return Told((*names, over), each)


def trials_told(reading: Reading, cells: Cells, plots: KnownPlots) -> tuple[str, ...]:
    """The trials whose plots the table may mean."""
    told = told_by(reading, cells)
    return plots.trials(told.names, told.labels) if told.names else ()


def of_its_trial(reading: Reading, cells: Cells, plots: KnownPlots) -> Reading:
    """The reading with the trial of its plots, where the labels leave no doubt about it."""
    trials = trials_told(reading, cells, plots)
    if reading.trial in trials:
        return reading
    return replace(reading, trial=trials[0] if len(trials) == 1 else None)


def about_names(reading: Reading, cells: Cells, plots: KnownPlots) -> list[Question]:
    """A question for each shortened name of a variety or another level."""
    called = dict(reading.called)
    asked = []
    for heading, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(heading)
        label = label_of(None if read is None else read.field)
        for text in column.used() if label is not None else ():
            levels = plots.short_for(label or "", text) if text.strip() not in called else ()
            if levels:
                words = f"{shown(text)} under {shown(heading)}: is it {' or '.join(levels)}?"
                asked.append(Question(f"name {text.strip()}", words, levels))
    return asked[:_MOST_NAMES]


def codes_in(reading: Reading, cells: Cells) -> tuple[str, ...]:
    """The texts of a table that stand for plots' codes, in columns and in headings."""
    found: list[str] = [says for field, says in reading.always if field == "plot"]
    for heading, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(heading)
        if read is not None and read.field == "plot":
            found += column.used()
        elif read is None and reading.spread is not None and reading.spread.headings == "plot":
            found.append(heading)
    return tuple(dict.fromkeys(found))


def about_codes(reading: Reading, cells: Cells, plots: KnownPlots) -> list[Question]:
    """A question where plots' codes are written without their letters, or spelled otherwise."""
    agreed = dict(reading.cells).get(PLOTS)
    texts = plots.otherwise(codes_in(reading, cells))
    others = [text for text in texts if spelled_alike(text, plots.codes) is None]
    if not texts or agreed not in (None, SPELLED_ALIKE):
        return []
    if not others:
        text = texts[0]
        alike = spelled_alike(text, plots.codes)
        words = f"{shown(text)} is not a plot's code as written. Is it {alike}?"
        return [] if agreed else [Question(PLOTS, words, (SPELLED_ALIKE,))]
    trials = trials_numbered(others, plots.of_trial)
    if not trials:
        return []
    may_be = " or ".join(f"{plot} of {trial}" for trial, plot in trials.items())
    more = f" and {len(others) - 1} more have" if len(others) > 1 else " has"
    words = f"{shown(others[0])}{more} no letters. Is it {may_be}?"
    return [Question(PLOTS, words, tuple(trials))]


def understood_codes(
    reading: Reading, cells: Cells, plots: KnownPlots
) -> tuple[tuple[str, str], ...]:
    """What is plain about plots' codes that differ from ours in spelling alone."""
    texts = plots.otherwise(codes_in(reading, cells))
    if texts and all(spelled_alike(text, plots.codes) for text in texts):
        return ((PLOTS, SPELLED_ALIKE),)
    return ()


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The plot of each row, and the rows of which it cannot be told."""

    plots: Spelled
    lost: NDArray[np.bool_]


def find_plots(
    columns: Mapping[str, Spelled],
    rows: NDArray[np.int64],
    trial: str | None,
    plots: KnownPlots,
    cells: Cells,
    headings: Sequence[str],
    faults: Faults,
) -> Found:
    """Find the plot of each row by its labels.

    Parameters
    ----------
    columns
        The columns of labels, by the field they were taken for.
    rows
        For each row its number in the source.
    trial
        Of which the plots are; None: of none that is known.
    headings
        Under which the labels stand in the source; the first names the place of a fault.
    faults
        Takes rows whose labels name no plot, or several.
    """
    names = [label_of(field) or field for field in columns]
    length = len(rows)
    if trial is None:
        wrong = Wrong(
            f"No open trial has plots with these {' and '.join(names)}.",
            "Load its plots first, or write the plots' codes.",
        )
        faults.add(cells.file, cells.heading_row, headings[0], wrong)
        return Found(Spelled.one("", length), np.ones(length, dtype=bool))
    codes = np.stack([column.codes for column in columns.values()], axis=1)
    different, which = np.unique(codes, axis=0, return_inverse=True)
    which = which.reshape(-1)
    finder = plots.find(trial, names)
    said = [
        finder.plot([column.texts[c] for column, c in zip(columns.values(), one, strict=True)])
        for one in different.tolist()
    ]
    lost = np.array([isinstance(plot, Wrong) for plot in said], dtype=bool)[which]
    texts = tuple("" if isinstance(plot, Wrong) else plot for plot in said)
    wrongs = [said[int(which[row])] for row in np.flatnonzero(lost)]
    faults.add_rows(
        Places.of(cells.file, rows[lost].tolist()),
        headings[0],
        lambda i: wrong if isinstance(wrong := wrongs[i], Wrong) else Wrong("", ""),
    )
    return Found(Spelled(texts, which.astype(np.int32)), lost)
