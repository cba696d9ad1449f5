"""Turns a file of any kind into its tables of cells."""

from __future__ import annotations

from pathlib import Path

from trials.records.encoded_column import Cells
from trials.records.faults import Faults
from trials.records.files.delimited import read_delimited
from trials.records.files.other_tables import without_other_tables
from trials.records.files.parquet import is_parquet, read_parquet
from trials.records.files.workbook import is_workbook, read_workbook


def read_tables(name: str, path: Path, faults: Faults) -> tuple[Cells, ...]:
    """The tables of a file: one of a CSV file, one a sheet of a workbook."""
    found: tuple[Cells | None, ...]
    if is_workbook(path):
        found = read_workbook(name, path, faults)
    elif is_parquet(path):
        found = (read_parquet(name, path, faults),)
    else:
        found = read_delimited(name, path, faults)
    return tuple(without_other_tables(cells, faults) for cells in found if cells is not None)
