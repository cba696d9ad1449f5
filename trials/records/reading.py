"""Turns files into cells of text, or says why a file cannot be read."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from trials.records.faults import Faults, Wrong, nearest, shown

SUFFIXES = (".csv", ".xlsx")
_BOM = b"\xef\xbb\xbf"
# The first bytes of files that a CSV file is often mistaken for.
_SIGNATURES: Mapping[bytes, str] = {
    b"PK\x03\x04": "a workbook (XLSX, ODS) or another zipped file",
    b"\xd0\xcf\x11\xe0": "an old workbook (XLS)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a compressed file",
    b"PAR1": "a Parquet file",
    b"SQLite format 3": "a database",
}
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
_SAVE_AS = "Save the sheet as 'CSV UTF-8' and load that file."
_UNSEEN_BYTES = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1b")) + b"\x7f"


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of one file: the heading as written, and the rows that have a cell for each.

    ``row_numbers`` count as a spreadsheet does. ``ragged`` says that rows with too few or too
    many cells were left out.
    """

    file: str
    sha256: str
    heading_row: int
    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    row_numbers: tuple[int, ...]
    ragged: bool


def find_files(paths: Sequence[Path], faults: Faults) -> dict[str, Path]:
    """The files to read, by the name they go by in messages.

    A folder stands for its CSV files and its workbooks.

    A file goes by its bare name unless two of one name are read together.
    """
    found: dict[Path, Path] = {}
    for path in paths:
        for file in _files_of(path, faults):
            found.setdefault(file.absolute(), file)
    names = [file.name for file in found.values()]
    return {
        file.name if names.count(file.name) == 1 else str(file): file for file in found.values()
    }


def _files_of(path: Path, faults: Faults) -> Iterable[Path]:
    try:
        if not path.is_dir():
            return (path,)
        files = sorted(
            file
            for file in path.iterdir()
            if file.suffix.lower() in SUFFIXES
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
                "This folder holds no CSV file and no workbook.",
                "Name the folder where the .csv or .xlsx files are.",
            ),
        )
    return files


def _cannot_open(problem: OSError) -> Wrong:
    return Wrong(
        f"It cannot be read: {problem.strerror or 'the system refused'}.",
        "Look whether it is open elsewhere, or whether you may read it.",
    )


def read_cells(name: str, path: Path, faults: Faults) -> Cells | None:
    """Read one file to cells; None if that cannot be done, and ``faults`` says why."""
    opened = _open(path)
    if isinstance(opened, Unreadable):
        faults.add(name, opened.row, None, opened.wrong)
        return None
    text, digest = opened
    lines = _split(name, text, faults)
    if lines is None:
        return None
    filled = [number for number, line in enumerate(lines, 1) if any(map(str.strip, line))]
    if not filled:
        faults.add(
            name,
            None,
            None,
            Wrong("The file is empty.", "It needs one row of headings and rows of records."),
        )
        return None
    heading_row = filled[0]
    heading, keep = _heading(lines, heading_row)
    rows, numbers = [], []
    ragged: list[tuple[int, int]] = []
    width = len(lines[heading_row - 1])
    for number in filled[1:]:
        line = lines[number - 1]
        if len(line) != width:
            ragged.append((number, len(line)))
            continue
        numbers.append(number)
        rows.append(tuple(line) if keep is None else tuple(line[i] for i in keep))
    faults.add_rows(
        [(name, number) for number, _ in ragged],
        None,
        lambda i: Wrong(
            f"This row has {ragged[i][1]} cells, the heading has {width}.",
            "Give the row one cell for each heading; a comma inside a cell needs quotation marks.",
        ),
    )
    if len(filled) == 1:
        faults.add(
            name,
            None,
            None,
            Wrong(
                "There are no rows under the heading.",
                "Add the rows, or leave this file out of the load.",
            ),
        )
    return Cells(
        name,
        digest,
        heading_row,
        heading,
        tuple(rows),
        tuple(numbers),
        bool(ragged),
    )


def _heading(lines: list[list[str]], heading_row: int) -> tuple[tuple[str, ...], list[int] | None]:
    """The headings, and which columns to keep: one with neither heading nor cell is no column."""
    heading = lines[heading_row - 1]
    if all(map(str.strip, heading)):
        return tuple(heading), None
    body = lines[heading_row:]
    keep = [
        i
        for i, name in enumerate(heading)
        if name.strip() or any(line[i].strip() for line in body if len(line) > i)
    ]
    return tuple(heading[i] for i in keep), keep


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Why a file holds no text, and the row where that shows."""

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
        return path.read_bytes()
    except OSError as problem:
        return Unreadable(_cannot_open(problem))


def _open(path: Path) -> tuple[str, str] | Unreadable:
    """The text of a file and the SHA-256 of its bytes."""
    data = open_bytes(path)
    if isinstance(data, Unreadable):
        return data
    text = _decode(data)
    return text if isinstance(text, Unreadable) else (text, sha256(data).hexdigest())


def _other_name(path: Path) -> str:
    try:
        near = nearest(path.name, [file.name for file in path.parent.iterdir()])
    except OSError:
        near = None
    except ValueError:  # a name no file can have
        near = None
    return "Check the name and the folder." if near is None else f"Did you mean {shown(near)}?"


def _decode(data: bytes) -> str | Unreadable:
    for signature, what in _SIGNATURES.items():
        if data.startswith(signature):
            return Unreadable(Wrong(f"This is {what}, not a CSV file.", _SAVE_AS))
    if data.startswith(_UTF_16):
        return Unreadable(Wrong("This text is written as UTF-16, not as UTF-8.", _SAVE_AS))
    # Text holds next to none of these bytes; pictures and programs are full of them.
    unseen = len(data) - len(data.translate(None, _UNSEEN_BYTES))
    if unseen > max(3, len(data) // 20):
        return Unreadable(Wrong("This is not text, so it cannot be a CSV file.", _SAVE_AS))
    skipped = len(_BOM) if data.startswith(_BOM) else 0
    try:
        return data[skipped:].decode("utf-8")
    except UnicodeDecodeError as problem:
        start = problem.start + skipped
        byte = data[start : start + 1]
        # Western Windows programs are where most such files come from.
        guess = byte.decode("cp1252", errors="replace")
        meant = f"; it may stand for {shown(guess)}" if guess.isprintable() else ""
        wrong = Wrong(
            f"This is not UTF-8: byte {start + 1:,} of the file is {byte.hex().upper()}{meant}.",
            _SAVE_AS,
        )
        return Unreadable(wrong, data[:start].count(b"\n") + 1)


def _split(name: str, text: str, faults: Faults) -> list[list[str]] | None:
    """Cut the text into rows of cells; blank lines are kept, as a spreadsheet counts them."""
    lines: list[list[str]] = []
    try:
        # extend() keeps what was read before a row that cannot be.
        lines.extend(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error:
        faults.add(
            name,
            len(lines) + 1,
            None,
            Wrong(
                "The quotation marks in this row do not pair up.",
                "Put a cell with a comma or a quotation mark in quotation marks, and double "
                "those inside it; or save the sheet as CSV again.",
            ),
        )
        return None
    return lines
