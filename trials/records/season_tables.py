"""Turns a file of any kind into its tables of cells."""

from __future__ import annotations

from pathlib import Path

from trials.records.delimited import read_delimited
from trials.records.faults import Faults
from trials.records.parquet import is_parquet, read_parquet
from trials.records.spellings import Cells
from trials.records.workbook import is_workbook, read_workbook


def read_tables(name: str, path: Path, faults: Faults) -> tuple[Cells, ...]:
    """The tables of a file: one of a CSV file, one a sheet of a workbook."""
    if is_workbook(path):
        return read_workbook(name, path, faults)
    if is_parquet(path):
        cells = read_parquet(name, path, faults)
        return () if cells is None else (cells,)
    cells = read_delimited(name, path, faults)
    return () if cells is None else (cells,)
