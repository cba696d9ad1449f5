"""The only judge of raw cells: files in, rows that are right out, or every fault at once.

``read`` reads the files of a season, ``judge_rows`` what was typed into a form; both go the same
way. Files are cut into cells (``files``), sheets of somebody's own are read as agreed
(``mapping``), each cell is judged by its column, rows that came twice or are stored are set apart,
and the rest is judged against everything else (``rules``). Nothing here knows a database.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trials.records.rules.factors import read_factors

if TYPE_CHECKING:
    from trials.model.rows import Batch, Known, Sheet
    from trials.records.judge_sheets import CutFiles
    from trials.records.mapping.agreement import Agreed

__all__ = [
    "cut",
    "judge",
    "judge_rows",
    "read",
    "read_corrections",
    "read_factors",
    "read_withdrawals",
]


def read(paths: Sequence[Path], known: Known, agreed: Agreed | None = None) -> Batch:
    """Read files of records, judge them together, and return the rows that are new.

    Parameters
    ----------
    paths
        CSV files and workbooks (XLSX), or folders of which every such file is read. The kind of
        a file, and of each sheet of a workbook, is told by its headings; files may refer to each
        other and to what is known.
    known
        What the store holds already.
    agreed
        How sheets of somebody's own are read, and why unlikely records are true; None: nothing.

    Returns
    -------
    Batch
        Typed rows by sheet, in the order of ``Sheet``; rows the store holds word for word are
        left out and counted. Text is ``str`` or None in object columns, whole numbers are
        ``Int64`` and other numbers ``Float64`` (NA where empty), days are ``datetime.date`` or
        None. ``factors`` of a trial reads ``"pinch on whole plots; variety on plots"`` exactly,
        ``margin`` reads ``"3"`` or ``"10 %"``, ``available`` reads ``"yes"`` or ``"no"``.
        Each factor of the plots is a column of text after the sheet's own. The columns of cuts are
        categories of these.

    Raises
    ------
    RecordsRefused
        Something cannot be right; it has every fault found.
    RecordsHeld
        Nothing is wrong, but some records are unlikely and nobody answers for them yet.
    ReadingNeeded
        A table is not one of ours, and how it is read is not agreed.
    """
    return judge(cut(paths), known, agreed)


def cut(paths: Sequence[Path]) -> CutFiles:
    """Cut the files to cells: the part of ``read`` for which nothing needs to be known."""
    from trials.records.judge_sheets import cut_files

    return cut_files(paths)


def judge(files: CutFiles, known: Known, agreed: Agreed | None = None) -> Batch:
    """Judge files that were cut to cells: the other part of ``read``, once for each ``cut``."""
    from trials.records.judge_sheets import judge_files

    return judge_files(files, known, agreed=agreed)


def judge_rows(
    tables: Mapping[Sheet, Sequence[Mapping[str, str]]],
    known: Known,
    *,
    corrects: bool = False,
    accept: str | None = None,
) -> Batch:
    """Judge rows that were typed: the text of each cell by the name of its column.

    ``corrects`` puts right what is held, as in ``read_corrections``; ``accept`` is why unlikely
    records are true.

    Raises
    ------
    RecordsRefused, RecordsHeld
        As in ``read``; faults go by the name of the sheet, the first row being row 2.
    """
    from trials.records import judge_sheets

    purpose = judge_sheets.Purpose.CORRECT if corrects else judge_sheets.Purpose.LOAD
    return judge_sheets.judge_rows(tables, known, purpose, accept)


def read_corrections(paths: Sequence[Path], known: Known, accept: str | None = None) -> Batch:
    """Read files of records that put right what is held; the same files, judged alike.

    The batch has, whole, the picking days, measured days, counts, scores, plantings and prices
    that differ from what is held. What is held word for word is counted in ``already_held``.
    ``accept`` is why unlikely records are true; None: they are held.

    Raises
    ------
    RecordsRefused
        A row cannot be right, nothing is held that it could put right, or it would change a name
        that other records stand on.
    RecordsHeld
        Nothing is wrong, but some records are unlikely and nobody answers for them yet.
    """
    from trials.records.judge_sheets import Purpose, judge_files
    from trials.records.mapping.agreement import Agreed

    return judge_files(cut(paths), known, Purpose.CORRECT, Agreed(accept=accept))


def read_withdrawals(paths: Sequence[Path], known: Known) -> Batch:
    """Read files of rows to be taken out: each is held word for word.

    Raises
    ------
    RecordsRefused
        A row is not held like that, or is of a kind that other records stand on.
    """
    from trials.records.judge_sheets import Purpose, judge_files

    return judge_files(cut(paths), known, Purpose.WITHDRAW)
