"""Finds the files to read and gets their bytes, no more of them than a farm can have written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from trials.records.faults import Faults, Wrong, nearest, shown

# What a folder is searched for: text files beside the records are often something else.
IN_FOLDERS = (".csv", ".xlsx", ".parquet")
BYTES_AT_MOST = 256_000_000  # a million cuts take 31 million
ROWS_AT_MOST = 5_000_000
COLUMNS_AT_MOST = 2_000
CELLS_AT_MOST = 50_000_000


def find_files(paths: Sequence[Path], faults: Faults) -> dict[str, Path]:
    """The files to read, by the name they go by in messages.

    A folder stands for its CSV files, workbooks and Parquet files. A file goes by its bare name
    unless two of one name are read together; a name is only ever shown, never followed.
    """
    found: dict[Path, Path] = {}
    for path in paths:
        for file in _files_of(path, faults):
            found.setdefault(file.absolute(), file)
    names = [file.name for file in found.values()]
    return {
        _printable(file.name if names.count(file.name) == 1 else str(file)): file
        for file in found.values()
    }


def _printable(name: str) -> str:
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in name)


def _files_of(path: Path, faults: Faults) -> Iterable[Path]:
    try:
        if not path.is_dir():
            return (path,)
        files = sorted(
            file
            for file in path.iterdir()
            if file.suffix.lower() in IN_FOLDERS
            # A spreadsheet leaves a file of this name beside one that it has open.
            and not file.name.startswith((".", "~$"))
            and file.is_file()
        )
    except OSError as problem:
        faults.add(str(path), None, None, _cannot_open(problem))
        return ()
    if not files:
        faults.add(
            str(path),
            None,
            None,
            Wrong(
                "This folder has no CSV file, workbook or Parquet file.",
                "Name the folder where the .csv, .xlsx or .parquet files are.",
            ),
        )
    return files


def _cannot_open(problem: OSError) -> Wrong:
    return Wrong(
        f"It cannot be read: {problem.strerror or 'the system refused'}.",
        "Check whether another program has it open, and whether you may read it.",
    )


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Why a file holds no cells, and the row where that shows."""

    wrong: Wrong
    row: int | None = None


def open_bytes(path: Path) -> bytes | Unreadable:
    """The bytes of a file, or why it has none."""
    try:
        if not path.exists():
            return Unreadable(Wrong("There is no such file.", _other_name(path)))
        if not path.is_file():
            wrong = Wrong("This is not a file.", "Name a CSV file, or a folder of them.")
            return Unreadable(wrong)
        size = path.stat().st_size
        if size > BYTES_AT_MOST:
            return Unreadable(
                Wrong(
                    f"The file has {size:,} bytes; the limit is {BYTES_AT_MOST:,}.",
                    "Split it by season, or remove rows that are not records.",
                )
            )
        return path.read_bytes()
    except OSError as problem:
        return Unreadable(_cannot_open(problem))


def _other_name(path: Path) -> str:
    try:
        near = nearest(path.name, [file.name for file in path.parent.iterdir()])
    except OSError:
        near = None
    except ValueError:  # a name no file can have
        near = None
    return "Check the name and the folder." if near is None else f"Did you mean {shown(near)}?"
