"""Turns text files into cells, whatever their encoding and separator, or says why it cannot."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import Faults, Places, Wrong, shown
from trials.records.files.find import CELLS_AT_MOST, COLUMNS_AT_MOST, Unreadable, open_bytes
from trials.records.files.sheet_parts import Part, is_total, parts_of

SEPARATORS = (",", ";", "\t", "|")
# Larger files are cut by the fast reader, where nothing in them needs the careful one.
FAST_FROM_BYTES = 1_000_000
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
_MARKS: Mapping[bytes, str] = {
    b"\xef\xbb\xbf": "utf-8",
    b"\xff\xfe": "utf-16-le",
    b"\xfe\xff": "utf-16-be",
}
_SAVE_AS = "Save the sheet as 'CSV UTF-8' and load that file."
_UNSEEN_BYTES = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1b")) + b"\x7f"
_UNSEEN = re.compile(f"[{re.escape(_UNSEEN_BYTES.decode())}]")
_SAMPLE = 64_000


@dataclass(frozen=True, slots=True)
class Written:
    """The text of a file, and how it was written down."""

    text: str
    encoding: str


def read_delimited(name: str, path: Path, faults: Faults) -> tuple[Cells, ...]:
    """Read a text file to its tables; none if that cannot be done, and ``faults`` says why."""
    data = open_bytes(path)
    if isinstance(data, Unreadable):
        faults.add(name, data.row, None, data.wrong)
        return ()
    digest = sha256(data).hexdigest()
    if len(data) >= FAST_FROM_BYTES:
        cells = cut_fast(name, digest, data)
        if cells is not None:
            return (cells,)
    written = decode(data)
    if isinstance(written, Unreadable):
        faults.add(name, written.row, None, written.wrong)
        return ()
    separator = separator_of(written.text)
    lines = _split(name, written.text, separator, faults)
    return () if lines is None else tables_of_lines(name, digest, lines, faults, separator)


def decode(data: bytes) -> Written | Unreadable:
    """The text of a file: UTF-8, UTF-16 or Windows-1252; never a mixture of them."""
    for signature, what in _SIGNATURES.items():
        if data.startswith(signature):
            return Unreadable(Wrong(f"This is {what}, not a CSV file.", _SAVE_AS))
    mark = next((mark for mark in _MARKS if data.startswith(mark)), b"")
    body = data[len(mark) :]
    encoding = _MARKS.get(mark) or _wide_encoding(body)
    if encoding is not None and encoding != "utf-8":
        try:
            text = body.decode(encoding)
        except UnicodeDecodeError:
            return Unreadable(Wrong("This UTF-16 text is cut short or damaged.", _SAVE_AS))
        return Unreadable(_no_text()) if _holds_unseen(text.encode()) else Written(text, encoding)
    if _holds_unseen(body):
        return Unreadable(_no_text())
    try:
        return Written(body.decode("utf-8"), "utf-8")
    except UnicodeDecodeError as problem:
        start = problem.start
    if encoding is None and body.decode("utf-8", errors="ignore").isascii():
        # Western Windows programs are where other text comes from.
        try:
            return Written(body.decode("cp1252"), "cp1252")
        except UnicodeDecodeError as problem:
            start = problem.start
    return _broken(body, start, len(mark))


def _wide_encoding(body: bytes) -> str | None:
    """UTF-16 without its mark: every other byte of western text is nought."""
    even, odd = body[0:_SAMPLE:2], body[1:_SAMPLE:2]
    if len(body) < 4 or len(body) % 2:
        return None
    if odd.count(0) > 0.4 * len(odd) and even.count(0) < 0.05 * len(even):
        return "utf-16-le"
    if even.count(0) > 0.4 * len(even) and odd.count(0) < 0.05 * len(odd):
        return "utf-16-be"
    return None


def _holds_unseen(data: bytes) -> bool:
    """Text holds next to none of these bytes; pictures and programs are full of them."""
    unseen = len(data) - len(data.translate(None, _UNSEEN_BYTES))
    return unseen > max(3, len(data) // 20)


def _no_text() -> Wrong:
    return Wrong("This is not text, so it cannot be a CSV file.", _SAVE_AS)


def _broken(body: bytes, start: int, skipped: int) -> Unreadable:
    byte = body[start : start + 1]
    guess = byte.decode("cp1252", errors="replace")
    meant = f"; it may stand for {shown(guess)}" if guess.isprintable() else ""
    wrong = Wrong(
        f"This is neither UTF-8 nor Windows-1252 throughout: byte {start + skipped + 1:,} of the "
        f"file is {byte.hex().upper()}{meant}.",
        _SAVE_AS,
    )
    return Unreadable(wrong, body[:start].count(b"\n") + 1)


def separator_of(text: str) -> str:
    """The separator under which most rows have as many cells as the row above them."""
    sample = text[:_SAMPLE]
    if len(text) > _SAMPLE:
        sample = sample[: sample.rfind("\n") + 1] or sample
    best, most = ",", 0.0
    for separator in SEPARATORS:
        widths = Counter(_widths(sample, separator))
        width, rows = max(
            ((width, rows) for width, rows in widths.items() if width > 1),
            key=lambda item: item[1],
            default=(1, 0),
        )
        agree = rows / max(widths.total(), 1) + min(width, 20) / 1000
        if width > 1 and agree > most:
            best, most = separator, agree
    return best


def _widths(sample: str, separator: str) -> list[int]:
    widths: list[int] = []
    with suppress(csv.Error):  # the careful reader says which row
        lines = csv.reader(io.StringIO(sample, newline=""), delimiter=separator)
        widths.extend(len(line) for line in lines if any(map(str.strip, line)))
    return widths


def _split(name: str, text: str, separator: str, faults: Faults) -> list[list[str]] | None:
    """Cut the text into rows of cells; blank lines are kept, as a spreadsheet counts them."""
    lines: list[list[str]] = []
    try:
        # extend() keeps what was read before a row that cannot be.
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
        lines.extend(reader)
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


def heading_place(lines: Sequence[Sequence[str]]) -> int | None:
    """Which row (from 0) holds the headings: the first that is no title; None of an empty table."""
    filled = [
        (place, sum(1 for cell in line if cell.strip())) for place, line in enumerate(lines[:200])
    ]
    filled = [(place, cells) for place, cells in filled if cells]
    if not filled:
        return next((i for i, line in enumerate(lines) if any(map(str.strip, line))), None)
    widest = max(cells for _, cells in filled[:40])
    # A title has one cell, or a few of very many.
    return next(place for place, cells in filled if cells == widest or cells > max(1, widest // 3))


def tables_of_lines(
    name: str,
    digest: str,
    lines: Sequence[Sequence[str]],
    faults: Faults,
    separator: str = ",",
) -> tuple[Cells, ...]:
    """The tables that rows of cells make; none if there is none, and ``faults`` says why."""
    top = heading_place(lines)
    if top is None:
        wrong = Wrong("The file is empty.", "It needs one row of headings, then rows of records.")
        faults.add(name, None, None, wrong)
        return ()
    if too_large := _too_large(len(lines), len(lines[top])):
        faults.add(name, None, None, too_large)
        return ()
    parts = parts_of(lines, top)
    return tuple(
        _cells_of_part(name_of_part(name, part, place), digest, lines, part, faults, separator)
        for place, part in enumerate(parts)
    )


def name_of_part(name: str, part: Part, place: int) -> str:
    """What a table goes by in messages: the first of a sheet by the sheet's name."""
    from openpyxl.utils import get_column_letter

    at = f"{get_column_letter(part.left + 1)}{part.top + 1}"
    return name if place == 0 else f"{name}, table at {at}"


def _cells_of_part(
    name: str,
    digest: str,
    lines: Sequence[Sequence[str]],
    part: Part,
    faults: Faults,
    separator: str,
) -> Cells:
    width = len(lines[part.top])
    whole = part.left == 0 and part.right >= width
    keep = _kept(lines, part)
    rows: list[tuple[str, ...]] = []
    numbers: list[int] = []
    ragged: dict[int, tuple[str, ...]] = {}
    for number, line in enumerate(lines[part.start : part.stop], part.start + 1):
        here = line[part.left : part.right]
        if number - 1 in part.repeated or not any(map(str.strip, here)):
            continue
        if whole and len(line) != width and not _says_aside(line, width):
            ragged[number] = tuple(line)
            continue
        numbers.append(number)
        rows.append(tuple(here[i] if i < len(here) else "" for i in keep))
    lengths = [len(line) for line in ragged.values()]
    faults.add_rows(
        Places.of(name, list(ragged)),
        None,
        lambda i: Wrong(
            f"This row has {lengths[i]} cells; the heading row has {width}.",
            "Give the row one cell per heading. A cell with a comma needs quotation marks.",
        ),
    )
    if not rows and not ragged:
        faults.add(name, None, None, no_rows())
    return Cells.of_rows(
        name,
        digest,
        part.top + 1,
        [part.heading[i] for i in keep],
        rows,
        numbers,
        left_out=ragged,
        separator=separator,
        titles=part.titles,
        repeated=tuple(place + 1 for place in part.repeated),
    )


def _says_aside(line: Sequence[str], width: int) -> bool:
    """Whether a row that is too short or too long is a remark or a total, and no record."""
    filled = [(place, cell) for place, cell in enumerate(line) if cell.strip()]
    if filled[-1][0] >= width:
        return False
    return len(filled) == 1 or is_total(filled[0][1])


def _kept(lines: Sequence[Sequence[str]], part: Part) -> list[int]:
    """Which columns to keep: one with neither heading nor cell is no column."""
    if all(part.heading):
        return list(range(len(part.heading)))
    body = [line[part.left : part.right] for line in lines[part.start : part.stop]]
    return [
        i
        for i, name in enumerate(part.heading)
        if name or any(len(line) > i and line[i].strip() for line in body)
    ]


def no_rows() -> Wrong:
    """What is wrong with a table that is nothing but headings."""
    return Wrong(
        "There are no rows under the headings.",
        "Add the rows, or leave this file out.",
    )


def _too_large(rows: int, columns: int) -> Wrong | None:
    if columns <= COLUMNS_AT_MOST and rows * columns <= CELLS_AT_MOST:
        return None
    return Wrong(
        f"The table has {rows:,} rows and {columns:,} columns; a table may have at most "
        f"{COLUMNS_AT_MOST:,} columns and {CELLS_AT_MOST:,} cells.",
        "Split it by season, or remove rows that are not records.",
    )


_LONE_RETURN = re.compile(rb"\r(?!\n)")


def cut_fast(name: str, digest: str, data: bytes) -> Cells | None:
    """Cut UTF-8 text in which a line is a row and a mark a separator, by many cells at once.

    Returns
    -------
    Cells or None
        Exactly what the careful reader makes of it; None where only that one can tell, as with
        quotation marks, rows of other lengths, titles, other encodings or what is no text.
    """
    data = data.removeprefix(b"\xef\xbb\xbf")
    if _wants_care(data):
        return None
    # A character has four bytes at most, and one that is cut off at the end is left out.
    separator = separator_of(data[: 4 * _SAMPLE].decode("utf-8", errors="ignore"))
    first = data[: data.find(b"\n")].removesuffix(b"\r").decode("utf-8")
    heading = tuple(first.split(separator))
    if len(heading) < 2 or len(heading) > COLUMNS_AT_MOST or not all(map(str.strip, heading)):
        return None
    columns = _cut_by_arrow(data, separator, len(heading))
    if columns is None or any(_UNSEEN.search(text) for column in columns for text in column.texts):
        return None
    blank = _blank_rows(columns)
    numbers = np.arange(2, len(blank) + 2)
    if blank.all():
        return None
    if blank.any():
        numbers, columns = numbers[~blank], tuple(column.at(~blank) for column in columns)
    return Cells(name, digest, 1, heading, columns, numbers, separator=separator)


def _wants_care(data: bytes) -> bool:
    """Whether it holds marks, line ends or a signature that only the careful reader can tell."""
    return (
        b'"' in data
        or b"\0" in data
        or (b"\r" in data and _LONE_RETURN.search(data) is not None)
        or any(map(data.startswith, _SIGNATURES))
    )


def _cut_by_arrow(data: bytes, separator: str, width: int) -> tuple[Spelled, ...] | None:
    """The columns below the first line; None where rows differ in width or are too many."""
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    names = [str(place) for place in range(width)]
    try:
        table = arrow_csv.read_csv(
            pa.py_buffer(data),
            read_options=arrow_csv.ReadOptions(column_names=names, skip_rows=1, block_size=1 << 20),
            parse_options=arrow_csv.ParseOptions(
                delimiter=separator, quote_char=False, ignore_empty_lines=False
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.dictionary(pa.int32(), pa.string())),
                strings_can_be_null=False,
            ),
        )
    except pa.ArrowInvalid:
        return None
    if _too_large(table.num_rows, width):
        return None
    return tuple(spelled(column) for column in table.columns)


def _blank_rows(columns: Sequence[Spelled]) -> NDArray[np.bool_]:
    """Which rows (n,) have nothing in any column."""
    if not all(any(not text.strip() for text in column.texts) for column in columns):
        return np.zeros(len(columns[0].codes), dtype=bool)
    empty = [column.where(lambda text: not text.strip()) for column in columns]
    blank: NDArray[np.bool_] = np.logical_and.reduce(empty)
    return blank


def spelled(column: object) -> Spelled:
    """A column of an Arrow table, dictionary-encoded text without nulls."""
    one = column.unify_dictionaries().combine_chunks()  # type: ignore[attr-defined]
    return Spelled(tuple(one.dictionary.to_pylist()), one.indices.to_numpy())
