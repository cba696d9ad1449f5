"""Reads the files of a season together: to cells, to typed rows, to rows that are new and right."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from trials.model.rows import Accepted, AgreedReading, Batch, Known, Sheet, Source
from trials.records.encoded_column import Cells
from trials.records.faults import Faults, Wrong
from trials.records.files.corrected_files import Put, put_in_place
from trials.records.files.find import find_files
from trials.records.files.tables import read_tables
from trials.records.mapping.agreement import Agreed, Understood, is_ours, own_codes, understand
from trials.records.mapping.guess import ReadingNeeded
from trials.records.mapping.plot_labels import KnownPlots, codes_of, plots_of
from trials.records.mapping.reading import DAY
from trials.records.rules.corrections import Amended, corrected, withdrawn
from trials.records.rules.cross_row import cross
from trials.records.rules.forms import FORMS
from trials.records.rules.headings import own_form, recognise
from trials.records.rules.levels import factors_have_columns
from trials.records.rules.pending import only_new
from trials.records.rules.purchases import prices_by_year, seed_as_usual, seeds_by_weight
from trials.records.rules.reference_data import behold
from trials.records.rules.validation import Judged, judge, settle

if TYPE_CHECKING:
    import pandas as pd


class Purpose(StrEnum):
    """What the rows are brought for."""

    LOAD = "load"
    CORRECT = "correct"
    WITHDRAW = "withdraw"


_SORTED_OUT: Mapping[Purpose, Callable[[Judged, pd.DataFrame, Faults], Amended]] = {
    Purpose.LOAD: lambda judged, held, faults: Amended.beside(
        held, *only_new(judged, held, faults)
    ),
    Purpose.CORRECT: corrected,
    Purpose.WITHDRAW: withdrawn,
}


@dataclass(frozen=True, slots=True, eq=False)
class CutFiles:
    """The tables of files as cells, by the name of each file, and what is wrong with them so far.

    ``unopened`` counts what was named and could not be found or opened.
    """

    tables: Mapping[str, tuple[Cells, ...]]
    faults: Faults
    unopened: int


def cut_files(paths: Sequence[Path]) -> CutFiles:
    """Cut files to cells; nothing needs to be known for it."""
    faults = Faults()
    files = find_files(paths, faults)
    unopened = len(faults)
    if not files and not unopened:
        faults.add("no file", None, None, Wrong("No file was named.", "Name a file or a folder."))
    tables = {name: read_tables(name, path, faults) for name, path in files.items()}
    # A workbook's own faults come before those of its sheets.
    faults.order([place for name, of in tables.items() for place in (name, *_names(of))])
    return CutFiles(tables, faults, unopened)


def judge_rows(
    tables: Mapping[Sheet, Sequence[Mapping[str, str]]],
    known: Known,
    purpose: Purpose = Purpose.LOAD,
    accept: str | None = None,
) -> Batch:
    """Judge what was typed into a form, as the rows of a file in our own headings are judged.

    ``tables`` has the text of each cell by the name of its column; the rows of a sheet have the
    same columns. They come from no file, so the batch has no sources.
    """
    cut = {f"{sheet.value}.csv": (_typed(sheet, rows),) for sheet, rows in tables.items()}
    batch = judge_files(
        CutFiles(cut, Faults(), 0), known, purpose, Agreed(accept=accept, asks=False)
    )
    return replace(batch, sources=())


def _typed(sheet: Sheet, rows: Sequence[Mapping[str, str]]) -> Cells:
    heading = tuple(rows[0])
    cells = [[row[name] for name in heading] for row in rows]
    return Cells.of_rows(f"{sheet.value}.csv", "", 1, heading, cells, range(2, 2 + len(rows)))


def judge_files(
    files: CutFiles,
    known: Known,
    purpose: Purpose = Purpose.LOAD,
    agreed: Agreed | None = None,
) -> Batch:
    """Judge and cross the cells of all files, once; see ``trials.records.read``.

    Rows to correct are judged as if those they replace were not there, also in closed trials; of
    rows to withdraw only whether they are held.
    """
    if purpose is not Purpose.LOAD:
        known = replace(known, closed_trials=frozenset())
    agreed = agreed or Agreed()
    agreed = replace(agreed, asks=agreed.asks and purpose is Purpose.LOAD)
    read, faults, unopened = files.tables, files.faults, files.unopened
    put = put_in_place([cells for of_file in read.values() for cells in of_file], faults)
    understood = _understood(put, agreed, _plots_for(put, known), faults)
    asked = [one.asked for one in understood if one.asked is not None]
    if asked:
        raise ReadingNeeded(asked)
    tables = [one.cells for one in understood if one.cells is not None]
    recognised = [kind for cells in tables if (kind := recognise(cells, faults)) is not None]
    by_sheet = {
        sheet: [file for file in recognised if file.form.sheet is sheet]
        for sheet in Sheet
        if any(file.form.sheet is sheet for file in recognised)
    }
    held = {sheet: settle(known.frames.get(sheet), FORMS[sheet]) for sheet in Sheet}
    judged: dict[Sheet, Judged] = {}
    new: dict[Sheet, Judged] = {}
    already_held: dict[Sheet, int] = {}
    for sheet, of_sheet in by_sheet.items():
        judged[sheet] = judge(of_sheet, faults)
        if sheet is Sheet.SEED_ITEMS:
            years = _seasons(held[Sheet.SEASONS], judged.get(Sheet.SEASONS))
            priced = seeds_by_weight(seed_as_usual(judged[sheet]), faults)
            judged[sheet] = prices_by_year(
                priced, held[sheet], years, amends=purpose is not Purpose.LOAD
            )
        sorted_out = _SORTED_OUT[purpose](judged[sheet], held[sheet], faults)
        new[sheet], already_held[sheet] = sorted_out.rows, sorted_out.same
        held[sheet] = sorted_out.held
    # A file that could not be read may be of any kind that no other file is of.
    unread = len(recognised) < len(understood) or not all(read.values()) or unopened > 0
    unsure = {sheet for sheet in Sheet if (not new[sheet].whole if sheet in new else unread)}
    if purpose is not Purpose.WITHDRAW:
        world = behold(held, new, known, unsure)
        if Sheet.PLOTS in judged:
            factors_have_columns(judged[Sheet.PLOTS], world, faults)
        for rows in new.values():
            cross(rows, world, faults)
    unlikely = faults.refuse_if_any(accept=agreed.accept is not None)
    reason = agreed.accept or ""
    sheet_of = {file.cells.file: file.form.sheet for file in recognised}
    return Batch(
        frames={sheet: rows.outgoing for sheet, rows in new.items() if len(rows)},
        sources=tuple(
            Source(file.cells.file, file.cells.sha256, file.form.sheet, len(file.cells))
            for file in recognised
        ),
        already_held=already_held,
        readings=tuple(dict.fromkeys(one.reading for one in understood if one.reading)),
        accepted=tuple(
            Accepted(sheet_of[one.file], one.file, one.row, one.column, one.problem, reason)
            for one in unlikely
        ),
        seen=known.last_entry,
    )


def _plots_for(put: Sequence[Put], known: Known) -> KnownPlots:
    """The plots by which sheets of somebody's own are read; not needed where all are ours."""
    ground = [one.cells for one in put if own_form(one.cells) is FORMS[Sheet.PLOTS]]
    if all(is_ours(one.cells) and not one.cells.marks for one in put):
        codes = codes_of(known, ground)
        if all(set(own_codes(one.cells)) <= codes for one in put):
            return KnownPlots()
    return plots_of(known, ground)


def _understood(
    put: Sequence[Put], agreed: Agreed, plots: KnownPlots, faults: Faults
) -> list[Understood]:
    """Each table in our own headings; mended rows are read as the file is that they come from."""
    found: dict[int, Understood] = {}
    kept: dict[str, AgreedReading] = {}
    for place, one in sorted(enumerate(put), key=lambda item: bool(item[1].stands_for)):
        theirs = {kept[file].signature: kept[file].text for file in one.stands_for if file in kept}
        as_theirs = replace(agreed, kept={**agreed.kept, **theirs})
        found[place] = understand(one.cells, as_theirs, plots, faults)
        if (reading := found[place].reading) is not None:
            kept[one.cells.file] = reading
    _one_day_is_not_that_of_several(put, found, agreed, faults)
    return [found[place] for place in range(len(put))]


def _seasons(held: pd.DataFrame, new: Judged | None) -> list[int]:
    """The years of the seasons that are held or come with the files."""
    cells = [] if new is None else new.cells("season").tolist()
    return [int(year) for year in (*held["season"].dropna(), *cells) if year is not None]


def _one_day_is_not_that_of_several(
    put: Sequence[Put], found: Mapping[int, Understood], agreed: Agreed, faults: Faults
) -> None:
    """An answer holds for all files, but sheets that have no day are of a day each."""
    without = [
        put[place].cells
        for place, one in found.items()
        if one.read_by is not None
        and put[place].cells.file not in agreed.tables
        and any(says == agreed.answers.get(name) for name, says in one.read_by.always)
        and (day := DAY.get(one.read_by.sheet)) in agreed.answers
        and day in dict(one.read_by.always)
    ]
    for cells in without if len(without) > 1 else ():
        wrong = Wrong(
            f"You gave one day, but {len(without)} sheets have none.",
            "Load them one by one, or name each worksheet by its day, such as 2026-07-20.",
        )
        faults.add(cells.file, cells.heading_row, None, wrong)


def _names(tables: Sequence[Cells]) -> list[str]:
    return [cells.file for cells in tables]
