"""Whether what a store took from files stands in them: read anew, by other means than ours."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
import warnings
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import permutations
from typing import Any

import openpyxl
import pandas as pd
import pyarrow as pa
from pyarrow import parquet

from trials.model.rows import Sheet

COUNTS = ("stems", "living")
_NUMBER = re.compile(r"\d+(?:[., '\u00a0\u202f]\d+)*|[.,]\d+")
_MIXED = re.compile(r"(\d+)[ -](\d)/([248])")
_VULGAR = {"¼": Decimal("0.25"), "½": Decimal("0.5"), "¾": Decimal("0.75")}
_FACTORS = [Decimal(f) for f in ("1", "0.1", "10", "2.54", "30.48", "100", "0.01", "0.001")]
_FACTORS += [Decimal(f) for f in ("0.0254", "0.3048", "0.09290304")]
_MONTH_NAMES = (
    *("jan ene", "feb fév fev", "mar mär mae maa", "apr avr abr", "may mai mei", "jun juin"),
    *("jul juil", "aug aoû aou ago", "sep set", "oct okt", "nov", "dec dez déc dic"),
)  # fmt: skip
_MONTHS = {name: number for number, names in enumerate(_MONTH_NAMES, 1) for name in names.split()}


def cells_of(name: str, data: bytes) -> Iterator[list[str]]:
    """All texts that cells of a file may hold: once for each way in which it may be cut."""
    if name.endswith(".xlsx"):
        yield list(_workbook(data))
    elif name.endswith(".parquet"):
        yield list(_parquet(data))
    else:
        for encoding in ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"):
            text = data.decode(encoding, "replace").replace("\0", "")
            for separator in ",;\t|":
                try:
                    lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
                except csv.Error:
                    lines = [re.split(f"[{re.escape(separator)}\r\n]", text)]
                yield [cell for line in lines for cell in line]


def _workbook(data: bytes) -> Iterator[str]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
        for page in book.worksheets:
            yield page.title
            for row in page.iter_rows(values_only=True):
                yield from (_plain(value) for value in row if value is not None)
    except Exception:  # noqa: BLE001 (a damaged one may still hold what its parts say)
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            for part in packed.namelist():
                yield from re.split(r"<[^>]*>", packed.read(part).decode("utf-8", "replace"))


def _plain(value: Any) -> str:
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return format(Decimal(repr(value)), "f") if isinstance(value, float) else str(value)


def _parquet(data: bytes) -> Iterator[str]:
    table = parquet.read_table(pa.BufferReader(data))
    yield from table.column_names
    for column in table.columns:
        yield from (_plain(value) for value in column.to_pylist() if value is not None)


def numbers_in(text: str) -> set[Decimal]:
    """Every number that a text may have in it, whichever mark stands before a fraction."""
    found: set[Decimal] = set()
    for match in _MIXED.finditer(text):
        found.add(Decimal(match[1]) + Decimal(match[2]) / Decimal(match[3]))
    for match in _NUMBER.finditer(text):
        token = match[0][:60]
        parts = re.split(r"[^\d]", token)
        found.update(Decimal(part) for part in parts if part)
        found.add(Decimal("".join(parts) or "0"))
        if len(parts) > 1:
            found.add(Decimal(f"{''.join(parts[:-1]) or '0'}.{parts[-1]}"))
        for sign, more in _VULGAR.items():
            if text[match.end() :].lstrip().startswith(sign):
                found.add(Decimal("".join(parts)) + more)
    found.update(more for sign, more in _VULGAR.items() if sign in text)
    return found


def days_in(text: str, year: int) -> set[date]:
    """Every day that a text may stand for."""
    found: set[date] = set()
    for match in re.finditer(r"\d{5}", text):
        if 30_000 <= int(match[0]) < 55_000:
            found.add(date(1899, 12, 30) + timedelta(days=int(match[0])))
    numbers = [int(n) for n in re.findall(r"\d+", text)[:3] if len(n) <= 4]
    words = [_MONTHS[w[:k]] for w in re.findall(r"[^\W\d_]{3,}", text.casefold())
             for k in (3, 4) if w[:k] in _MONTHS]  # fmt: skip
    known = [*numbers, *words[:1]]
    for three in permutations([*known, year], 3):
        y, m, d = three
        try:
            found.add(date(y + 2000 if y < 100 else y, m, d))
        except ValueError:
            continue
    return found


class Traces:
    """What the cells of some files hold, as numbers, days and words."""

    def __init__(self, files: Sequence[tuple[str, bytes]], answers: Mapping[str, str]) -> None:
        self.counts: Counter[Decimal] = Counter()
        self.lengths: set[Decimal] = set()
        self.days: set[date] = set()
        words: list[str] = list(answers.values())
        year = int(answers.get("year", "2026"))
        for name, data in files:
            of_file: Counter[Decimal] = Counter()
            for cells in cells_of(name, data):
                words += cells
                now: Counter[Decimal] = Counter()
                for text in cells:
                    now.update(numbers_in(text))
                    self.days |= days_in(text, year)
                of_file |= now
            self.counts += of_file
        for text in answers.values():
            self.lengths |= numbers_in(text)
            self.days |= days_in(text, year)
        exact = {n * f for n in [*self.counts, *self.lengths] for f in _FACTORS if n < 10**12}
        self.lengths = {self._round(n, "0.0001") for n in exact}
        self.lengths |= {self._round(n, "1") for n in exact}
        self.words = _folded(" \n ".join(words))

    @staticmethod
    def _round(number: Decimal, to: str) -> Decimal:
        return number.quantize(Decimal(to), ROUND_HALF_UP)

    def holds(self, value: Any, may_be: frozenset[str]) -> bool:
        """Whether a stored value stands in some cell, or is one of what may be beside them."""
        if isinstance(value, datetime | date):
            return value in self.days
        if isinstance(value, str):
            return value in may_be or _folded(value) in self.words
        return value == 0 or self._round(Decimal(repr(abs(float(value)))), "0.0001") in self.lengths

    def untraced(self, stored: Mapping[Sheet, pd.DataFrame], may_be: frozenset[str]) -> list[str]:
        """Every value of some new rows that stands nowhere, and counts stored too often."""
        found = []
        for sheet, frame in stored.items():
            for column in frame.columns:
                values = [v for v in frame[column].tolist() if v is not None and not pd.isna(v)]
                found += [
                    f"{sheet} {column}: {value!r} stands nowhere in the files"
                    for value in dict.fromkeys(values)
                    if not self.holds(value, may_be)
                ]
                if column in COUNTS:
                    taken = Counter(Decimal(int(value)) for value in values if value)
                    found += [
                        f"{sheet} {column}: {n} is stored {times} times, stands {self.counts[n]}"
                        for n, times in taken.items()
                        if times > self.counts[n]
                    ]
        return found


def _folded(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def new_rows(
    before: Mapping[Sheet, pd.DataFrame], after: Mapping[Sheet, pd.DataFrame]
) -> dict[Sheet, pd.DataFrame]:
    """The rows that came between two looks at a store."""
    found = {}
    for sheet, frame in after.items():
        there = before.get(sheet)
        keys = set() if there is None else set(_keys(there, list(frame.columns)))
        fresh = [key not in keys for key in _keys(frame, list(frame.columns))]
        if any(fresh):
            found[sheet] = frame[fresh]
    return found


def _keys(frame: pd.DataFrame, columns: list[str]) -> list[tuple[str, ...]]:
    full = frame.reindex(columns=columns)
    return [tuple(map(str, row)) for row in full.astype(object).to_numpy().tolist()]
