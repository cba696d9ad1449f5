"""Turns somebody's own table into one of ours by its reading, and remembers where each cell stood.

A pure function: what a text means is told by the reading alone, and a text that it gives no meaning
is handed on as it is, for the judges of cells to refuse where it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells, Spelled, joined
from trials.records.faults import Faults, Wrong, nearest, shown
from trials.records.mapping.gaps import without_dittos, without_gaps
from trials.records.mapping.marks import without_marked
from trials.records.mapping.meaning import meant_by
from trials.records.mapping.noted import REPEATS, heading_counts, said_under
from trials.records.mapping.plot_labels import KnownPlots, label_of
from trials.records.mapping.plots import find_plots
from trials.records.mapping.reading import VALUE, ReadColumn, Reading, distinct, own_unit
from trials.records.mapping.repeats import ADDED_UP, added_up
from trials.records.mapping.tidy_rows import (
    Tidy,
    replace_column,
    with_culls_apart,
    without_blanks,
)
from trials.records.mapping.totals import rows_of
from trials.records.rules.days import readings_of
from trials.records.rules.factors import plain_heading
from trials.records.rules.forms import FORMS, Kind, Need

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Wide:
    """One column that becomes rows: its place, its heading, and the facts that it tells."""

    place: int
    heading: str
    facts: tuple[tuple[str, str], ...]

    def says(self, field: str) -> str:
        """What it says of a column of ours; empty where it says nothing."""
        return dict(self.facts).get(field, "")


_NO_HEADING = Wrong(
    "This column contains counts but has no heading.",
    "Give it a heading (a length grade or a reason for culling), or empty the column.",
)


def apply(
    reading: Reading, cells: Cells, faults: Faults, plots: KnownPlots | None = None
) -> Cells | None:
    """The table in our own headings and words, one row a record.

    Parameters
    ----------
    reading
        Agreed, with every question answered that this table raises.
    cells
        A table with the headings of the reading; of a wide one, further days may have come.
    faults
        Takes headings that the reading needs or does not know, and labels that name no plot.
    plots
        Those that are known, for a reading that tells plots by block, variety and the like.

    Returns
    -------
    Cells or None
        None where the headings do not fit.
    """
    known = plots or KnownPlots()
    heading = distinct(cells.heading)
    if not _headings_fit(reading, heading, cells, faults):
        return None
    _refuse_made_up(reading, heading, cells, faults)
    taken = _taken(reading, cells, known)
    table = _tidy(taken, reading, known)
    table, lost = _with_plots(table, taken, reading, known, faults)
    table = _worked_out(table, reading)
    order = [name for name in FORMS[reading.sheet].names if name in table.columns]
    order += [name for name in table.columns if name not in order and label_of(name) is None]
    wide = taken.wide
    return Cells(
        cells.file,
        cells.sha256,
        cells.heading_row,
        tuple(order),
        tuple(table.columns[name] for name in order),
        cells.row_numbers[table.rows],
        {**cells.left_out, **dict.fromkeys(lost, ())},
        cells.separator,
        taken.stands_under,
        _wide_fields(wide, taken.value),
        tuple(w.heading for w in wide),
        table.spread if wide else None,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Taken:
    """The columns of the source by what they are taken for, and which of its rows are records.

    ``value`` is the column of ours that the cells of the wide ones go to.
    """

    cells: Cells
    records: Mask
    columns: dict[str, Spelled]
    stands_under: dict[str, str]
    wide: list[_Wide]
    value: str | None


def _taken(reading: Reading, cells: Cells, plots: KnownPlots) -> _Taken:
    """Sort the columns, with blanks and ditto marks filled, and without what is left out."""
    records = rows_of(reading, cells, plots).records
    unmarked = without_marked(reading, cells)
    cells = without_gaps(reading, without_dittos(reading, unmarked.cells))
    records &= ~unmarked.dropped
    columns: dict[str, Spelled] = {}
    stands_under: dict[str, str] = {}
    wide: list[_Wide] = []
    value: str | None = None
    for place, name in enumerate(distinct(cells.heading)):
        read = reading.column(name)
        if name in unmarked.headings:
            continue
        if read is None and reading.spread is not None:
            value, unit = reading.spread.cells, reading.spread.unit
            parts = reading.spread.parts(name)
            facts = tuple((f, meant_by(f, reading, unit, plots)(said)) for f, said in parts)
            wide.append(_Wide(place, name, facts))
        elif read is not None and read.field is not None and _is_one_of_several(read, reading):
            value = read.field
            wide.append(_Wide(place, name, () if read.sets is None else (read.sets,)))
        elif read is not None and read.field is not None:
            column = _said(cells, place, name).at(records)
            columns[read.field] = column.respelled(meant_by(read.field, reading, read.unit, plots))
            stands_under[read.field] = name
    return _Taken(cells, records, columns, stands_under, wide, value)


def _is_one_of_several(read: ReadColumn, reading: Reading) -> bool:
    """Whether a column of counts stands beside others, so that each makes rows of its own."""
    if read.sets is not None:
        return True
    value = VALUE.get(reading.sheet)
    others = [c for c in reading.columns if c.field == value and c is not read]
    return read.field == value and (bool(others) or reading.spread is not None)


def _said(cells: Cells, place: int, heading: str) -> Spelled:
    """A column with what its heading counts said behind each number, as of bunches."""
    column = cells.columns[place]
    if not heading_counts(heading):
        return column
    return column.respelled(lambda text: said_under(heading, text))


def _tidy(taken: _Taken, reading: Reading, plots: KnownPlots) -> Tidy:
    """A row for each count or measure, with what holds for every row, without blank ones."""
    rows = np.flatnonzero(taken.records)
    table = Tidy(taken.columns, rows, np.arange(len(rows)), np.zeros(len(rows), dtype=np.int32))
    if taken.wide and taken.value is not None:
        unit = None if reading.spread is None else reading.spread.unit
        meant = meant_by(taken.value, reading, unit, plots)
        table = _unfolded(table, taken.wide, taken.value, taken.cells, meant)
    for field, says in reading.always:
        said = meant_by(field, reading, own_unit(field), plots)(says)
        table.columns[field] = Spelled.one(said, len(table.rows))
    table = with_culls_apart(table, reading)
    return without_blanks(table, reading) if VALUE.get(reading.sheet) in table.columns else table


def _with_plots(
    table: Tidy, taken: _Taken, reading: Reading, plots: KnownPlots, faults: Faults
) -> tuple[Tidy, list[int]]:
    """The table with the plots that labels tell, and the rows of which none can be told."""
    labels = {field: its for field, its in table.columns.items() if label_of(field) is not None}
    if not labels:
        return table, []
    under = next((taken.stands_under[f] for f in labels if f in taken.stands_under), "")
    taken.stands_under["plot"] = under
    numbers = taken.cells.row_numbers[table.rows]
    named = [under or taken.wide[0].heading]
    found = find_plots(labels, numbers, reading.trial, plots, taken.cells, named, faults)
    lost = [int(number) for number in numbers[found.lost]]
    return replace_column(table, "plot", found.plots).only(~found.lost), lost


def _worked_out(table: Tidy, reading: Reading) -> Tidy:
    """The table with sums of two crews, numbers of stems, and columns that may be empty."""
    if dict(reading.cells).get(REPEATS) == ADDED_UP and "stems" in table.columns:
        sums, kept = added_up(table.columns, len(table.rows))
        table = replace_column(table, "stems", sums).only(kept)
    if reading.sheet is Sheet.STEM_SAMPLES and "stem" not in table.columns:
        table.columns["stem"] = _counted(table)
    for needed in FORMS[reading.sheet].columns:
        if needed.need is Need.COLUMN and needed.name not in table.columns:
            table.columns[needed.name] = Spelled.one("", len(table.rows))
    return table


def _wide_fields(wide: Sequence[_Wide], value: str | None) -> frozenset[str]:
    """The columns of ours whose cells stand in wide columns, or in their headings."""
    if value is None or not wide:
        return frozenset()
    return frozenset([value, *(field for w in wide for field, _ in w.facts)])


def _refuse_made_up(reading: Reading, heading: Sequence[str], cells: Cells, faults: Faults) -> None:
    """Refuse columns whose heading would be a value, where it was made up to tell the column."""
    for name, written in zip(heading, cells.heading, strict=True):
        read = reading.column(name)
        if read is not None and read.sets is not None and name != written.strip():
            faults.add(cells.file, cells.heading_row, name, _NO_HEADING)


def _headings_fit(reading: Reading, heading: tuple[str, ...], cells: Cells, faults: Faults) -> bool:
    before = len(faults)
    there = {plain_heading(name) for name in heading}
    for column in reading.columns:
        if column.field is not None and plain_heading(column.heading) not in there:
            near = nearest(column.heading, heading)
            ask = f"Is it the column {shown(near)}? " if near else ""
            wrong = Wrong(
                "The agreed reading of this file needs a column with this heading.",
                f"{ask}Name it so again, or agree on a new reading.",
            )
            faults.add(cells.file, cells.heading_row, column.heading, wrong)
    for name in heading:
        if reading.column(name) is not None or _is_wide(name, reading):
            continue
        wrong = Wrong(
            "The agreed reading of this file does not have this column.",
            "Remove the column, or agree on a new reading.",
        )
        faults.add(cells.file, cells.heading_row, name, wrong)
    return len(faults) == before


def _is_wide(name: str, reading: Reading) -> bool:
    if reading.spread is None:
        return False
    return all(_tells(field, text, reading) for field, text in reading.spread.parts(name))


def _tells(field: str, text: str, reading: Reading) -> bool:
    """Whether a heading can say what a column of ours holds."""
    column = FORMS[reading.sheet].column(field)
    if column.kind is Kind.DATE:
        return readings_of(text, reading.year or 2024) is not None
    if column.kind in (Kind.WHOLE, Kind.NUMBER):
        return any(c.isdigit() for c in text)
    return bool(text)


def _unfolded(
    table: Tidy, wide: list[_Wide], value: str, cells: Cells, meant: Callable[[str], str]
) -> Tidy:
    """A row for each wide cell: all of the first row of the source, then all of the second."""
    height, width = len(table.rows), len(wide)
    under = [_said(cells, w.place, w.heading).at(table.rows) for w in wide]
    stacked = joined(under)
    by_row = stacked.codes.reshape(width, height).T.ravel()
    spread = np.tile(np.arange(width, dtype=np.int32), height)
    columns = {
        name: Spelled(column.texts, np.repeat(column.codes, width))
        for name, column in table.columns.items()
    }
    for field in dict.fromkeys(field for w in wide for field, _ in w.facts):
        said = Spelled.of([w.says(field) for w in wide])
        columns[field] = Spelled(said.texts, said.codes[spread])
    columns[value] = Spelled(stacked.texts, by_row).respelled(meant)
    record = np.repeat(table.record, width)
    return Tidy(columns, np.repeat(table.rows, width), record, spread)


def _counted(table: Tidy) -> Spelled:
    """Stems that have no number are counted, those of each plot and day from 1 on."""
    seen: dict[tuple[int, ...], int] = {}
    keys = [table.columns[name].codes for name in ("plot", "cut_on") if name in table.columns]
    numbers = []
    for key in zip(*(codes.tolist() for codes in keys), strict=True):
        seen[key] = seen.get(key, 0) + 1
        numbers.append(str(seen[key]))
    return Spelled.of(numbers)
