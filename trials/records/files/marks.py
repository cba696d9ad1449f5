"""Marks on a workbook's sheet: hidden rows and columns, struck-out cells, notes and colours."""

from __future__ import annotations

import colorsys
import posixpath
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import unescape
from typing import Any

from trials.records.encoded_column import Mark
from trials.records.faults import shown
from trials.records.files.sheet_parts import Part
from trials.records.mapping.reading import distinct

HIDDEN_ROWS, HIDDEN_COLUMNS, HIDDEN_SHEET = "hidden rows", "hidden columns", "hidden worksheet"
STRUCK, NOTES, COLOURS = "struck-out cells", "notes", "colours"
_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*)>")
_COL = re.compile(rb"<(?:\w+:)?col\b([^>]*)>")
_HIDDEN = re.compile(rb'\bhidden\s*=\s*["\'](?:1|true)["\']')
_COMMENT = re.compile(r"<(?:\w+:)?comment\b([^>]*)>(.*?)</(?:\w+:)?comment>", re.DOTALL)
_TEXT = re.compile(r"<(?:\w+:)?t\b[^>]*>(.*?)</(?:\w+:)?t>", re.DOTALL)
_CELL = re.compile(r"([A-Z]{1,3})(\d+)")
_HUES = ((15, "red"), (45, "orange"), (70, "yellow"), (170, "green"), (260, "blue"),
         (300, "purple"), (340, "pink"), (361, "red"))  # fmt: skip
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class SheetMarks:
    """What one sheet marks; rows and columns are counted from 0."""

    hidden: bool = False
    rows: frozenset[int] = frozenset()
    columns: frozenset[int] = frozenset()
    notes: Mapping[Place, str] = field(default_factory=dict)
    struck: frozenset[Place] = frozenset()
    fills: Mapping[Place, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Style:
    """What a cell's style marks: whether it is struck out, and the colour behind it."""

    struck: bool
    fill: str | None


def styles_of(book: Any) -> dict[int, Style]:
    """The styles of a workbook that mark cells, by their numbers."""
    found = {}
    for number, style in enumerate(book._cell_styles):
        font, fill = book._fonts[style.fontId], book._fills[style.fillId]
        colour = None
        if getattr(fill, "fill_type", None) == "solid":
            said = fill.fgColor
            colour = (
                str(said.rgb) if said.type == "rgb" else f"{said.type} {said.value} {said.tint}"
            )
        if font.strike or colour not in (None, "FFFFFFFF", "00FFFFFF"):
            found[number] = Style(bool(font.strike), colour)
    return found


def sheet_marks(packed: zipfile.ZipFile, sheet: Any) -> SheetMarks:
    """The hidden rows and columns, and the notes, of a sheet that is open for reading only."""
    path = sheet._worksheet_path
    data = packed.read(path)
    return SheetMarks(
        sheet.sheet_state != "visible",
        frozenset(_hidden_rows(data)),
        frozenset(_hidden_columns(data)),
        dict(_notes(packed, path)),
    )


def _attribute(name: bytes, tag: bytes) -> int | None:
    found = re.search(rb"\b" + name + rb'\s*=\s*["\'](\d{1,7})["\']', tag)
    return None if found is None else int(found[1])


def _hidden_rows(data: bytes) -> Iterator[int]:
    for place, found in enumerate(_ROW.finditer(data)):
        if _HIDDEN.search(found[1]):
            number = _attribute(b"r", found[1])
            yield place if number is None else number - 1


def _hidden_columns(data: bytes) -> Iterator[int]:
    for found in _COL.finditer(data):
        first, last = _attribute(b"min", found[1]), _attribute(b"max", found[1])
        if _HIDDEN.search(found[1]) and first is not None and last is not None:
            yield from range(first - 1, min(last, 16_384))


def _notes(packed: zipfile.ZipFile, path: str) -> Iterator[tuple[Place, str]]:
    folder, name = posixpath.split(path)
    links = f"{folder}/_rels/{name}.rels"
    if links not in packed.namelist():
        return
    targets = re.findall(r'Target\s*=\s*"([^"]*comments[^"]*\.xml)"', _utf8(packed, links))
    for target in targets:
        part = posixpath.normpath(posixpath.join(folder, target)).lstrip("/")
        part = target.lstrip("/") if target.startswith("/") else part
        if part not in packed.namelist():
            continue
        for found in _COMMENT.finditer(_utf8(packed, part)):
            cell = _CELL.search(found[1])
            if cell is not None:
                yield _place(cell), unescape("".join(_TEXT.findall(found[2]))).strip()


def _utf8(packed: zipfile.ZipFile, part: str) -> str:
    return packed.read(part).decode("utf-8", "replace")


def _place(cell: re.Match[str]) -> Place:
    from openpyxl.utils import column_index_from_string

    return int(cell[2]) - 1, column_index_from_string(cell[1]) - 1


def marks_on(part: Part, texts: Sequence[Sequence[str]], marks: SheetMarks) -> tuple[Mark, ...]:
    """The marks on the cells of one table that say something."""
    heading = [name for name in part.heading if name]
    names = dict(
        zip((p for p, name in enumerate(part.heading, part.left) if name), distinct(heading),
            strict=True)
    )  # fmt: skip
    rows = [r for r in range(part.start, part.stop) if any(texts[r][part.left : part.right])]
    found = [Mark(HIDDEN_SHEET, None, None, "")] if marks.hidden else []
    hidden = {
        row: " ".join(filter(None, texts[row][part.left : part.right]))
        for row in rows
        if row in marks.rows
    }
    found += [
        Mark(HIDDEN_ROWS, row + 1, None, f"row {row + 1} ({shown(said)})")
        for row, said in hidden.items()
    ]
    found += [
        Mark(HIDDEN_COLUMNS, None, name, f"column {shown(name)}")
        for place, name in names.items()
        if place in marks.columns
    ]
    colours = _legend(texts, marks) if marks.fills else {}
    for row in [part.top, *rows]:
        for place, name in names.items():
            text = texts[row][place] if place < len(texts[row]) else ""
            at = _name(row, place)
            where = (None if row == part.top else row + 1, name)
            if (note := marks.notes.get((row, place))) is not None:
                found.append(Mark(NOTES, *where, f"{at} ({shown(text)}) says {shown(note)}"))
            if (row, place) in marks.struck and text:
                found.append(Mark(STRUCK, *where, f"{at} ({shown(text)})"))
            meant = colours.get(marks.fills.get((row, place), ""))
            if meant is not None and text and text != meant:
                found.append(Mark(COLOURS, *where, f"{at} ({shown(text)}) is {shown(meant)}"))
    return tuple(found)


def _name(row: int, place: int) -> str:
    from openpyxl.utils import get_column_letter

    return f"{get_column_letter(place + 1)}{row + 1}"


def _legend(texts: Sequence[Sequence[str]], marks: SheetMarks) -> dict[str, str]:
    """What each colour means, where a cell that stands almost alone in its row says so."""
    found: dict[str, str] = {}
    names = {colour: _colour_name(colour) for colour in set(marks.fills.values())}
    for row, line in enumerate(texts):
        filled = [(place, text) for place, text in enumerate(line) if text]
        if not filled:
            continue
        aside = [filled[0], filled[-1]] if len(filled) < 3 else filled[-1:]
        for place, text in aside:
            words = set(re.findall(r"[a-z]+", text.casefold()))
            own = marks.fills.get((row, place))
            for colour, name in names.items():
                named = name in words or (name == "grey" and "gray" in words)
                if named and ("=" in text or ":" in text or "-" in text or len(words) > 1):
                    found.setdefault(colour, text)
            if own is not None and len(filled) < 3 and any(map(str.isalpha, text)):
                found.setdefault(own, text)
    return found


def _colour_name(colour: str) -> str:
    """The everyday name of a colour; of one that the workbook's theme makes it is not known."""
    if not re.fullmatch(r"[0-9A-Fa-f]{8}", colour):
        return ""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (2, 4, 6))
    hue, _, saturation = colorsys.rgb_to_hls(red, green, blue)
    if saturation < 0.15:
        return "grey"
    return next(name for limit, name in _HUES if hue * 360 < limit)
