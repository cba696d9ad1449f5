"""What hypothesis makes of files of records: right ones of every kind, spoiled somehow."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Literal

import openpyxl
import pyarrow as pa
from hypothesis import strategies as st
from pyarrow import parquet

Rows = list[list[str]]

# A small farm, one trial of two plots, in our own files.
FARM: dict[str, str] = {
    "sites.csv": "site,place,bed_width_m\nLow Field,by the brook,1.2\n",
    "seasons.csv": "season,site,starts_on,ends_on\n2026,Low Field,2026-03-25,2026-10-31\n",
    "varieties.csv": "variety,crop\nEmber,zinnia\nFrost Fern,zinnia\n",
    "trials.csv": "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
    "equivalence_margin,minimum_length_cm\n"
    "Z26,2026,Low Field,zinnia,Which?,variety on plots,Ember,stems_per_plant,"
    "0.05,10 %,40\n",
    "plots.csv": "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
    "transplanted_on\nZ26,A1,1,North,1,Ember,16,1.2,1.44,2026-05-20\n"
    "Z26,A2,1,North,2,Frost Fern,16,1.2,1.44,2026-05-20\n",
}
# Right tables of every kind that may be loaded into it.
SHEETS: dict[str, Rows] = {
    "cuts": [
        ["plot", "cut_on", "outcome", "grade_cm", "stems", "cull_reason"],
        ["A1", "2026-07-20", "picked", "40", "12", ""],
        ["A1", "2026-07-20", "picked", "", "2", "short"],
        ["A2", "2026-07-20", "missed", "", "", ""],
        ["A2", "2026-07-27", "picked", "30", "7", ""],
    ],
    "stands": [
        ["plot", "counted_on", "living"],
        ["A1", "2026-06-10", "16"],
        ["A2", "2026-06-10", "14"],
    ],
    "events": [
        ["trial", "plot", "happened_on", "kind", "reason"],
        ["Z26", "A1", "2026-06-12", "note", "deer, perhaps"],
        ["Z26", "", "2026-10-14", "frost", ""],
    ],
    "scores": [["plot", "scored_on", "trait", "value"], ["A1", "2026-08-01", "vase life", "8.5"]],
    "varieties": [["variety", "crop", "colour", "habit"], ["Tallow", "zinnia", "cream", "low"]],
    "by date": [
        ["Plot", "20/7/26", "27/7/26", "Total"],
        ["A1", "12", "x", "12"],
        ["A2", "", "3", "3"],
    ],
    "by grade": [["Tag", "Date", "30 cm", "40 cm", "bent"], ["A1", "20 Jul 2026", "3", "4", "1"]],
    "by plot": [["Day", "A1", "A2"], ["1.8.26", "12", "4"], ["8.8.26", "", "0"]],
    "lengths": [
        ["plot", "date", "length (in)"],
        ["A1", "2026-07-20", '18 1/2"'],
        ["A1", "20.7.26", "12,5"],
    ],
    "stiele": [
        ["Parzelle", "Datum", "Klasse (cm)", "Stiele"],
        ["A1", "20.07.2026", "40-50", "12"],
        ["A2", "20.07.2026", "50+", "7"],
    ],
    "prices": [
        ["Supplier", "SKU", "Cultivar", "Seeds", "Price", "In stock"],
        ["Barn", "E9", "Ember", "1,000", "12.50", "yes"],
    ],
    "ground": [
        ["Trial", "Plot", "Rep", "Bed", "Pos", "Cultivar", "Plants", "Length (ft)", "Area (sq ft)",
         "Planted"],
        ["Z26", "A3", "2", "North", "3", "Ember", "16", "4", "15.5", "20 May 2026"],
    ],
    "by block": [
        ["Rep", "Cultivar", "Date", "alive"],
        ["Block 1", "ember", "20.6.2026", "12"],
        ["1", "Frost Fern", "20.6.2026", "9"],
    ],
    "block by date": [
        ["block", "variety", "20/7/26", "27/7/26"],
        ["1", "Ember", "3", "4"],
        ["1", "Frost Fern", "", "12"],
    ],
    "by variety": [["Day", "Block", "Ember", "Frost Fern"], ["2026-07-20", "1", "12", "4"]],
    "mended": [
        ["what to correct", "stands for a row of", "its row there", "plot", "counted_on", "living"],
        ["the day", "stands.csv", "2", "A1", "2026-06-11", "15"],
    ],
}  # fmt: skip
HOSTILE = (
    *("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("http://x")', "=cmd|' /C calc'!A0"),
    *("<script>alert(1)</script>", "![x](http://x/y.png)", "{{7*7}}", "%s%n", "$(reboot)", "`id`"),
    *("'; DROP TABLE cut; --", '" OR 1=1', "Robert'); DELETE FROM plot;--", "?", "$1"),
    *("../../etc/passwd", "C:\\Windows", "file:///etc/passwd", "\\\\host\\share", "/dev/zero"),
    *("\u202eevil", "\u200b", "\ufeff", "\u0000", "\x1b[31m", "\x07", "e\u0301" * 9, "𝟙𝟚", "١٢"),
    *("NaN", "inf", "-inf", "1e308", "1e999", "0x10", "1_000", "9" * 400, "-0", "0" * 50 + "1"),
    *("2026-02-30", "0000-00-00", "9999-12-31", "01/02/2026", "2026-07-20T25:61", "46206"),
    *("", " ", "\n", "a\nb", '"', '""', ",", ";", "\t", "|", "null", "None", "TRUE", "#REF!"),
    *("x" * 1001, "é" * 1000, "\ufffe", "A1 ", "a1", "Á1", "total", "40+", '12"', "½", "1/0"),
)  # fmt: skip
# Text as people write it in such cells, right in some places and absurd in others.
WRITTEN = (
    *("12", "0", "7.0", "7,5", "1.234", "1,234", "1 234", "180", "40 cm", '16"', "16'", "400 mm"),
    *("30-40", "50+", "3 1/2", "12½", "n/a", "-", "x", "missed", "20/7/26", "7/20/26", "20.7."),
    *("20 Jul", "July 20th, 2026", "Mon 20.7.2026", "wk 31", "46223", "2026-07-20T00:00:00"),
    *("A1", "A2", "Ember", "frost fern", "Z26", "1", "1.0", "picked", "short", "North", "2026"),
)  # fmt: skip
HEADINGS = (
    *("plot", "Tag", "Date", "stems", "Stems (total)", "grade", "length in", "Rep", "variety"),
    *("block", "bed", "position", "20/7/26", "27 Jul", "30 cm", '16"', "A1", "A2", "notes", ""),
)  # fmt: skip
ANSWERS = {
    "sheet": "cuts",
    "blank": "zero",
    "grade_cm": "40",
    "dates": "day first",
    "year": "2026",
    "unit": "cm",
    "unit of length": "in",
    "mark x": "missed",
    "mark -": "not recorded",
    "mark n/a": "zero",
    "decimal": "comma",
    "cut_on": "2026-07-20",
    "counted_on": "2026-06-10",
    "from_packs": "1",
    "trait": "vase life",
    "trial": "Z26",
    "hidden rows": "take",
    "hidden columns": "take",
    "totals": "keep the rows",
    "plots": "Z26",
    "numbers with words": "the number",
    "pairs": "the second",
    "about": "the number",
    "ranges": "low",
}


@dataclass(frozen=True, repr=False)
class Spoiled:
    """Files to be loaded at once: their names and bytes, and what is agreed about them.

    ``fresh`` loads them into an empty store rather than into that of the small farm.
    """

    files: tuple[tuple[str, bytes], ...]
    guesses: bool
    answers: tuple[tuple[str, str], ...]
    accept: str | None
    fresh: bool = False

    def __repr__(self) -> str:
        names = ", ".join(f"{name} ({len(data)} bytes)" for name, data in self.files)
        return f"{names}, guesses {self.guesses}, answers {self.answers}, accept {self.accept}"


Change = Callable[[Rows], Rows]
Damage = Callable[[bytes], bytes]
_places = st.integers(0, 30)
_fractions = st.integers(0, 999)


def _at(rows: Rows, row: int, column: int) -> tuple[int, int]:
    row %= max(1, len(rows))
    return row, column % max(1, len(rows[row])) if rows else 0


def _put(row: int, column: int, text: str) -> Change:
    def change(rows: Rows) -> Rows:
        r, c = _at(rows, row, column)
        if rows and rows[r]:
            rows[r][c] = text
        return rows

    return change


def _swap_cells(row: int, column: int, other: int, another: int) -> Change:
    def change(rows: Rows) -> Rows:
        r, c = _at(rows, row, column)
        q, d = _at(rows, other, another)
        if rows and rows[r] and rows[q]:
            rows[r][c], rows[q][d] = rows[q][d], rows[r][c]
        return rows

    return change


def _drop_column(column: int) -> Change:
    def change(rows: Rows) -> Rows:
        at = _at(rows, 0, column)[1]
        return [row[:at] + row[at + 1 :] for row in rows]

    return change


def _put_column(column: int, heading: str, text: str | None) -> Change:
    """A column more: a copy of one (``text`` None), or the same text all down."""

    def change(rows: Rows) -> Rows:
        at = _at(rows, 0, column)[1]
        there = [(row[at] if at < len(row) else "") if text is None else text for row in rows]
        there[:1] = [heading]
        return [[*row[:at], said, *row[at:]] for row, said in zip(rows, there, strict=True)]

    return change


def _move_column(column: int, to: int) -> Change:
    def change(rows: Rows) -> Rows:
        at, there = _at(rows, 0, column)[1], _at(rows, 0, to)[1]
        for row in rows:
            if at < len(row):
                row.insert(there, row.pop(at))
        return rows

    return change


def _put_row(row: int, cells: Sequence[str] | None) -> Change:
    def change(rows: Rows) -> Rows:
        at = _at(rows, row, 0)[0]
        rows.insert(at, list(rows[at] if cells is None and rows else cells or ()))
        return rows

    return change


def _cut_row(row: int, column: int) -> Change:
    def change(rows: Rows) -> Rows:
        r, c = _at(rows, row, column)
        if rows:
            rows[r] = rows[r][:c]
        return rows

    return change


def _rewrite(column: int, style: str) -> Change:
    """A whole column in another style: other days, decimal commas, units behind the numbers."""

    def change(rows: Rows) -> Rows:
        at = _at(rows, 0, column)[1]
        for row in rows[1:]:
            if at < len(row):
                row[at] = _in_style(row[at], style)
        return rows

    return change


def _in_style(text: str, style: str) -> str:
    if style in ("%d/%m/%Y", "%m/%d/%y", "%d.%m.", "%d %b %Y", "serial"):
        try:
            day = date.fromisoformat(text)
        except ValueError:
            return text
        return str((day - date(1899, 12, 30)).days) if style == "serial" else day.strftime(style)
    if style == "comma":
        return text.replace(".", ",")
    return text + style if text[-1:].isdigit() else text


_styles = st.sampled_from(
    ["%d/%m/%Y", "%m/%d/%y", "%d.%m.", "%d %b %Y", "serial", "comma", " cm", '"', ".0", " ", ",00"]
)
_texts = st.one_of(st.sampled_from(WRITTEN), st.sampled_from(HOSTILE), st.text(max_size=8))
_changes: st.SearchStrategy[Change] = st.one_of(
    st.builds(_put, _places, _places, st.sampled_from(WRITTEN)),
    st.builds(_put, _places, _places, _texts),
    st.builds(_put, _places, _places, st.just("")),
    st.builds(_put, st.just(0), _places, st.sampled_from(HEADINGS)),
    st.builds(_swap_cells, _places, _places, _places, _places),
    st.builds(_drop_column, _places),
    st.builds(
        _put_column, _places, st.sampled_from(HEADINGS), st.none() | st.sampled_from(WRITTEN)
    ),
    st.builds(_move_column, _places, _places),
    st.builds(_put_row, _places, st.none()),
    st.builds(
        _put_row,
        _places,
        st.sampled_from([[], [""], ["Low Field 2026"], ["Total", "", "19"], ["* bent by wind"]]),
    ),
    st.builds(_cut_row, _places, _places),
    st.builds(_rewrite, _places, _styles),
)


# ------------------------------------------------------------------------- from cells to bytes


@st.composite
def as_text(draw: st.DrawFn, rows: Rows) -> bytes:
    """The table as a text file: any separator, quoting, line end and encoding."""
    out = io.StringIO(newline="")
    quoting: Literal[0, 1] = csv.QUOTE_ALL if draw(st.integers(0, 3)) == 3 else csv.QUOTE_MINIMAL
    ends = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    separator = draw(st.sampled_from([",", ";", "\t", "|"]))
    csv.writer(out, delimiter=separator, lineterminator=ends, quoting=quoting).writerows(rows)
    text = out.getvalue()
    if draw(st.integers(0, 9)) == 9:
        text = text.rstrip("\r\n")
    encodings = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
    return text.encode(draw(st.sampled_from(encodings)), "replace")


@st.composite
def as_workbook(draw: st.DrawFn, rows: Rows, others: bool = True) -> bytes:
    """The table on a sheet of a workbook: numbers and days as such, merged, hidden, reckoned."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    typed = draw(st.booleans())
    down, right = draw(st.integers(0, 2)), draw(st.integers(0, 1))
    for r, row in enumerate(rows, 1 + down):
        for c, text in enumerate(row, 1 + right):
            plain = "".join(x for x in text if x.isprintable())[:30000]
            if plain:
                cell = page.cell(r, c)
                cell.value = _as_value(plain) if typed else plain
                if isinstance(cell.value, str) and not plain.startswith("=S"):
                    cell.data_type = "s"
    for extra in draw(
        st.lists(st.sampled_from(["merge", "hide", "formula", "error", "note"]), max_size=2)
    ):
        r, c = 1 + down + draw(st.integers(0, 3)), 1 + right + draw(st.integers(0, 3))
        if extra == "merge":
            page.merge_cells(start_row=r, end_row=r + 1, start_column=c, end_column=c)
        elif extra == "hide":
            page.row_dimensions[r].hidden = True
            page.column_dimensions["B"].hidden = True
        elif page.cell(r, c).__class__.__name__ == "Cell":
            page.cell(r, c).value = {"formula": "=SUM(A1:A2)", "error": "#REF!"}.get(extra, "note")
    if others and draw(st.integers(0, 3)) == 3:
        other = book.create_sheet(draw(st.sampled_from(["notes", "cuts 2", "read me"])))
        for row in draw(st.sampled_from([SHEETS["stands"], SHEETS["by date"], [["see sheet 1"]]])):
            other.append(row)
    saved = io.BytesIO()
    book.save(saved)
    return saved.getvalue()


def _as_value(text: str) -> Any:
    if text.isascii() and text.isdigit() and len(text) < 15:
        return int(text)
    try:
        return datetime.fromisoformat(text) if len(text) == 10 else float(text.replace(",", "."))
    except ValueError:
        return text


_TYPES = ("text", "number", "decimal", "day", "zoned", "nested", "record", "bytes", "codes", "null")


def _as_column(texts: list[str], kind: str) -> pa.Array:
    """The texts as a column of another type where they can be, as text where they cannot."""
    numbers = [None if not t else Decimal(t) if t.isascii() and t.isdigit() else t for t in texts]
    try:
        match kind:
            case "number":
                return pa.array([None if n is None else float(n) for n in numbers])
            case "decimal":
                return pa.array(numbers, pa.decimal128(12, 2))
            case "day":
                return pa.array([date.fromisoformat(t) for t in texts])
            case "zoned":
                days = [datetime.fromisoformat(t).replace(tzinfo=UTC) for t in texts]
                return pa.array(days, pa.timestamp("us", "America/New_York"))
            case "nested":
                return pa.array([[t] for t in texts])
            case "record":
                return pa.array([{"text": t} for t in texts])
            case "bytes":
                return pa.array([t.encode() for t in texts])
            case "codes":
                return pa.array(texts).dictionary_encode()
            case "null":
                return pa.nulls(len(texts))
    except (ValueError, TypeError, pa.ArrowException):
        pass
    return pa.array([t or None for t in texts])


@st.composite
def as_parquet(draw: st.DrawFn, rows: Rows) -> bytes:
    """The table as a Parquet file with columns of odd types."""
    rows = [[t.encode("utf-8", "replace").decode() for t in row] for row in rows] or [["a"]]
    width = max(1, *map(len, rows))
    full = [[*row, *[""] * (width - len(row))] for row in rows]
    columns = [
        _as_column([row[c] for row in full[1:]], draw(st.sampled_from(_TYPES)))
        for c in range(width)
    ]
    saved = io.BytesIO()
    parquet.write_table(pa.Table.from_arrays(columns, names=full[0]), saved)
    return saved.getvalue()


# ---------------------------------------------------------------------------------- bytes, damaged


def _cut_bytes(at: int, length: int) -> Damage:
    def damage(data: bytes) -> bytes:
        start = len(data) * at // 1000
        return data[:start] + data[start + length :]

    return damage


def _put_bytes(at: int, more: bytes) -> Damage:
    def damage(data: bytes) -> bytes:
        start = len(data) * at // 1000
        return data[:start] + more + data[start:]

    return damage


def _flip(at: int, bit: int) -> Damage:
    def damage(data: bytes) -> bytes:
        start = len(data) * at // 1000
        return (
            data[:start] + bytes(b ^ 1 << bit for b in data[start : start + 1]) + data[start + 1 :]
        )

    return damage


def _repeat(at: int, length: int) -> Damage:
    def damage(data: bytes) -> bytes:
        start = len(data) * at // 1000
        return data[: start + length] + data[start:]

    return damage


def _splice(at: int, other: int) -> Damage:
    """The beginning of the file before its own other part."""
    return lambda data: data[: len(data) * at // 1000] + data[len(data) * other // 1000 :]


def in_zip(member: int, how: str, damage: Damage) -> Damage:
    """Damage within a zipped file: its parts dropped, doubled, renamed, or spoiled inside."""

    def spoil(data: bytes) -> bytes:
        try:
            with zipfile.ZipFile(io.BytesIO(data)) as packed:
                parts = [(info.filename, packed.read(info)) for info in packed.infolist()]
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, RuntimeError):
            return data
        if not parts:
            return data
        place = member % len(parts)
        name, content = parts[place]
        match how:
            case "drop":
                del parts[place]
            case "double":
                parts.append((name + "x", content))
            case "rename":
                parts[place] = ("../" + name, content)
            case "inside":
                parts[place] = (name, damage(content))
            case _:
                old, _, new = how.partition("→")
                parts[place] = (name, content.replace(old.encode(), new.encode()))
        saved = io.BytesIO()
        with zipfile.ZipFile(saved, "w", zipfile.ZIP_DEFLATED) as packed:
            for its_name, its_content in parts:
                packed.writestr(its_name, its_content)
        return saved.getvalue()

    return spoil


_damages: st.SearchStrategy[Damage] = st.one_of(
    st.builds(_cut_bytes, _fractions, st.integers(1, 30)),
    st.builds(_cut_bytes, _fractions, st.just(10**9)),
    st.builds(_put_bytes, _fractions, st.binary(min_size=1, max_size=8)),
    st.builds(_put_bytes, _fractions, st.just(b"\0")),
    st.builds(
        _put_bytes,
        _fractions,
        st.sampled_from(HOSTILE).map(lambda text: text.encode("utf-8", "surrogatepass")),
    ),
    st.builds(_flip, _fractions, st.integers(0, 7)),
    st.builds(_repeat, _fractions, st.integers(1, 40)),
    st.builds(_splice, _fractions, _fractions),
)
_HOWS = ["drop", "double", "rename", "inside", "inside", "<v>→<v>9e99", '"s"→"b"', '"n"→"d"']
_HOWS += ['s="1"→s="99"', '"s"→"e"', "<row →<row hidden='1' ", 'r="A1"→r="XFD1048576"', "<c →<d "]
_zip_damages = st.builds(in_zip, st.integers(0, 12), st.sampled_from(_HOWS), _damages)


@st.composite
def spoiled_table(draw: st.DrawFn, rows: Rows, most: int = 3) -> tuple[str, bytes]:
    """A table with some cells, rows and columns changed, written as a file of some kind."""
    rows = [list(row) for row in rows]
    for change in draw(st.lists(_changes, max_size=most)):
        rows = change(rows)
    kind = draw(st.sampled_from([".csv", ".csv", ".csv", ".xlsx", ".parquet"]))
    if kind == ".csv":
        data = draw(as_text(rows))
    elif kind == ".xlsx":
        data = draw(as_workbook(rows))
    else:
        data = draw(as_parquet(rows))
    if draw(st.integers(0, 3)) == 3:
        for damage in draw(st.lists(_damages, min_size=1, max_size=4)):
            data = damage(data)
    elif kind == ".xlsx" and draw(st.integers(0, 2)) == 2:
        data = draw(_zip_damages)(data)
    return kind, data


@st.composite
def spoiled_corpus(draw: st.DrawFn, corpus: Sequence[tuple[str, bytes]]) -> Spoiled:
    """A file that somebody might have, spoiled in its bytes."""
    name, data = corpus[draw(st.integers(0, len(corpus) - 1))]
    more = [_zip_damages] if name.endswith(".xlsx") else []
    for damage in draw(st.lists(st.one_of(_damages, *more), max_size=3)):
        data = damage(data)
    return draw(_agreed(((name, data),)))


@st.composite
def _agreed(draw: st.DrawFn, files: tuple[tuple[str, bytes], ...], fresh: bool = False) -> Spoiled:
    keys = draw(st.sampled_from([sorted(ANSWERS), []]))
    dropped = draw(st.sets(st.sampled_from(sorted(ANSWERS)), max_size=2)) if keys else set()
    answers = tuple((key, ANSWERS[key]) for key in keys if key not in dropped)
    return Spoiled(
        files, draw(st.booleans()), answers, draw(st.sampled_from([None, "true"])), fresh
    )


@st.composite
def spoiled_sheet(draw: st.DrawFn) -> Spoiled:
    """One or two files for the small farm, ours or somebody's own, changed or damaged."""
    kinds = draw(st.lists(st.sampled_from(sorted(SHEETS)), min_size=1, max_size=2, unique=True))
    files = []
    for place, kind in enumerate(kinds):
        suffix, data = draw(spoiled_table(SHEETS[kind], most=0 if place else 3))
        files.append((kind + suffix, data))
    return draw(_agreed(tuple(files)))


@st.composite
def spoiled_folder(draw: st.DrawFn) -> Spoiled:
    """All files of a farm at once for an empty store, a few of them spoiled."""
    tables = {name: list(csv.reader(io.StringIO(text))) for name, text in FARM.items()}
    own = ("cuts", "stands", "events", "scores")
    tables |= {f"{kind}.csv": SHEETS[kind] for kind in own}
    hurt = draw(st.lists(st.sampled_from(sorted(tables)), max_size=2, unique=True))
    files = []
    for name, rows in tables.items():
        if name in hurt:
            suffix, data = draw(spoiled_table(rows, most=2))
            files.append((name.removesuffix(".csv") + suffix, data))
        else:
            out = io.StringIO(newline="")
            csv.writer(out).writerows(rows)
            files.append((name, out.getvalue().encode()))
    return draw(_agreed(tuple(files), fresh=True))


def spoiled(corpus: Sequence[tuple[str, bytes]]) -> st.SearchStrategy[Spoiled]:
    """Files of every kind, one by one, in folders, and out of a corpus."""
    sheets = spoiled_sheet()
    return st.one_of(sheets, sheets, spoiled_folder(), spoiled_corpus(corpus))
