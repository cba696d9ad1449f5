"""Finds what a table leaves open: whether its rows are plots, and in which season and site.

Plants of one plot share its soil and its care. Counted as plots they make chance differences look
real (pseudoreplication: Hurlbert 1984, Ecological Monographs 54:187), so a column that looks like
plants, visits, plots, seasons or sites and was given no part is asked about.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np

from trials.errors import TableUnclear, Unclear
from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import shown
from trials.records.rules.days import is_a_week, looks_like_a_day, readings_of
from trials.records.rules.one_level import tidy
from trials.records.table.columns import TableColumns
from trials.stats.design.experimental_units import constant_within, grouped
from trials.stats.design.linear_model import Grouping
from trials.stats.design.plots import has_layout, place_of, samples_by_place
from trials.stats.design.table import Codes, Labels, PlotTable, RowsAre

# Judgement: a trial without blocks seldom has more plots of one treatment than this.
MOST_PLAIN_PLOTS = 12
# Judgement: where treatments repeat inside blocks, they seldom do so more often than this.
MOST_IN_A_BLOCK = 3
SEASONS_APART_DAYS = 200
YEARS = (1950, 2100)
MOST_YEARS_APART = 15
MOSTLY = 0.8


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_NUMBERED = _set("no nr num number id code name label tag the")
_ONE_PLANT = _set(
    "plant stem sample subsample specimen individual flower bloom head shoot branch "
    "pflanze stiel plante tige planta tallo steel"
)
_MANY_PLANTS = _set("plants stems samples subsamples flowers blooms heads shoots")
_PLOT = _set("plot plots parcel parcelle parzelle parcela")
_DATE = _set(
    "date day week visit harvest pick picking cut flush picked harvested measured sampled "
    "datum tag woche jour fecha"
)
_DATE_TOO = _NUMBERED | _set("on of planting sowing counted")
_SEASON = _set("season year yr jahr saison année annee año temporada jaar seizoen")
_SEASON_TOO = _SEASON | _set("growing trial crop harvest of")
_SITE = _set("site location farm garden nursery standort lieu sitio locatie")
_SITE_TOO = _SITE | _set("trial growing of")
_LAST_NUMBER = re.compile(r"(.*?)(\d{1,9})", re.ASCII)
_WORDS = re.compile(r"[^\W\d_]+")


@dataclass(frozen=True, slots=True, eq=False)
class _Unused:
    """A column that was given no part: its words, and its texts as codes (n,)."""

    name: str
    words: frozenset[str]
    texts: tuple[str, ...]
    codes: Codes

    def called(self, any_of: frozenset[str], others: frozenset[str] = _NUMBERED) -> bool:
        """Whether the heading has one of these words, and no word but these and ``others``."""
        return bool(self.words & any_of) and self.words <= any_of | others

    @property
    def values(self) -> tuple[str, ...]:
        """The texts that are not empty."""
        return tuple(text for text in self.texts if text)

    @property
    def varies(self) -> bool:
        """Whether there are at least two values, and some on several rows."""
        return 1 < len(self.values) < len(self.codes)


def require_clear(cells: Cells, columns: TableColumns, table: PlotTable) -> None:
    """Refuse to guess what the rows of a table are.

    ``cells`` and ``table`` are the same rows, as written and as read.

    Raises
    ------
    TableUnclear
        An unused column looks like seasons, sites, plots, plants or visits, or the rows far
        outnumber what the named layout explains; with a question for each.
    """
    unused = [each for each in _unused(cells, columns) if len(each.texts) > 1]
    found = [*_seasons(unused, columns, table), *_sites(unused, columns, table)]
    if columns.plot is None:
        asked = [each.codes for each in unused if each.name in {one.column for one in found}]
        place = grouped("plot", place_of(table).codes, *asked)
        found += _plots(unused, columns, table) or _rows(unused, columns, table, place)
    if found:
        raise TableUnclear(cells.file, found)


def answered(columns: TableColumns, question: Unclear, answer: str) -> TableColumns:
    """The columns as an answer to a question has them."""
    if question.part == "rows_are":
        return replace(columns, rows_are=RowsAre(answer))
    if answer == "no":
        return replace(columns, ignored=(*columns.ignored, question.column or ""))
    parts: dict[str, Any] = {question.part: question.column}
    return replace(columns, **parts)


def _unused(cells: Cells, columns: TableColumns) -> Iterator[_Unused]:
    used = {tidy(name) for name in (*columns.labels, *columns.numbers, *columns.ignored)}
    for heading, column in zip(cells.heading, cells.columns, strict=True):
        name = tidy(heading)
        if name and name not in used:
            yield _as_unused(name, column.respelled(tidy))


def _as_unused(name: str, column: Spelled) -> _Unused:
    labels = Labels.of(name, column.cells())
    words = frozenset(_WORDS.findall(name.replace("_", " ").casefold()))
    return _Unused(name, words, labels.levels, labels.codes)


def _seasons(unused: list[_Unused], columns: TableColumns, table: PlotTable) -> Iterator[Unclear]:
    if columns.season is not None:
        return
    for each in unused:
        if (
            each.varies
            and (each.called(_SEASON, _SEASON_TOO) or _are_years(each))
            and not _stands_for_blocks(each, table)
        ):
            yield Unclear(
                "season",
                each.name,
                f"Column {shown(each.name)} has {_some(each.values)}. Is it the season in which "
                "each row grew?",
                ("yes", "no"),
            )
            return
        days = sorted(_days(each)) if each.called(_DATE, _DATE_TOO) else []
        apart = any((b - a).days > SEASONS_APART_DAYS for a, b in pairwise(days))
        if apart and not _stands_for_blocks(each, table):
            yield Unclear(
                "season",
                None,
                f"Column {shown(each.name)} has days of more than one season. If the rows grew in "
                "several seasons, add a column with the season of each row and name it with "
                f"--season. If not, add --ignore {shown(each.name)}.",
            )
            return


def _sites(unused: list[_Unused], columns: TableColumns, table: PlotTable) -> Iterator[Unclear]:
    if columns.site is not None:
        return
    for each in unused:
        if each.varies and each.called(_SITE, _SITE_TOO) and not _stands_for_blocks(each, table):
            yield Unclear(
                "site",
                each.name,
                f"Column {shown(each.name)} has {_some(each.values)}. Is it the site where each "
                "row grew?",
                ("yes", "no"),
            )
            return


def _plots(unused: list[_Unused], columns: TableColumns, table: PlotTable) -> list[Unclear]:
    """A column of plots with several rows each, every plot with one treatment."""
    if columns.rows_are == RowsAre.PLOTS:
        return []
    place = place_of(table)
    for each in unused:
        if not each.called(_PLOT) or not each.varies:
            continue
        around = [] if table.block is None else [table.block.codes]
        named = grouped("plot", *around, each.codes)
        if named.count < table.y.size and constant_within(place.codes, named):
            words = (
                f"{table.y.size} rows have {named.count} plots in column {shown(each.name)}. "
                "Are the rows of one plot samples of it?"
            )
            return [Unclear("plot", each.name, words, ("yes", "no"))]
    return []


def _rows(
    unused: list[_Unused], columns: TableColumns, table: PlotTable, place: Grouping
) -> list[Unclear]:
    """Whether rows are plots, where that is what they would be taken for without a word."""
    if columns.rows_are is not None:
        return []
    for name in (columns.block, columns.row, columns.column, columns.incomplete_block):
        if name is not None and _as_unused(name, Spelled.of(["a", "b"])).called(_ONE_PLANT):
            return [_rows_question(f"Column {shown(name)}, named as a layout, looks like plants.")]
    held = np.bincount(place.codes)
    if held.max() == 1 or samples_by_place(table, place):
        return []
    for each in unused:
        if _are_plants(each, place):
            what = f"Column {shown(each.name)} looks like plants or stems."
            return [_rows_question(what)]
        if _are_visits(each, place):
            what = f"Column {shown(each.name)} has the same days again for each treatment."
            return [_rows_question(what)]
    most = MOST_IN_A_BLOCK if has_layout(table) else MOST_PLAIN_PLOTS
    if held.mean() > most:
        each_has = "each treatment in each block" if has_layout(table) else "each treatment"
        what = f"{table.y.size} rows are about {held.mean():.0f} for {each_has}."
        return [_rows_question(what)]
    return []


def _rows_question(what: str) -> Unclear:
    words = (
        f"{what} Is each row a plot, or are several rows plants (or stems, or visits) of a plot?"
    )
    return Unclear("rows_are", None, words, tuple(each.value for each in RowsAre))


def _stands_for_blocks(each: _Unused, table: PlotTable) -> bool:
    """Whether the column only gives the named blocks another name."""
    if table.block is None:
        return False
    blocks = grouped("block", table.block.codes)
    return len(each.texts) == blocks.count and constant_within(each.codes, blocks)


def _are_years(each: _Unused) -> bool:
    if not all(re.fullmatch(r"\d{4}", text, re.ASCII) for text in each.values):
        return False
    years = [int(text) for text in each.values]
    low, high = min(years), max(years)
    often = np.bincount(each.codes).min() > 1
    return bool(often and YEARS[0] <= low and high <= YEARS[1] and high - low <= MOST_YEARS_APART)


def _are_plants(each: _Unused, place: Grouping) -> bool:
    """Whether the column numbers (or names) the rows within each place, under a plant's heading."""
    one, many = each.called(_ONE_PLANT), each.called(_MANY_PLANTS | _ONE_PLANT)
    if not many or grouped("both", place.codes, each.codes).count < len(each.codes):
        return False
    numbers = _numbers(each)
    if numbers is None:
        return one and not any(_is_number(text) for text in each.texts)
    held = np.bincount(place.codes)
    low = np.full(place.count, numbers.max())
    np.minimum.at(low, place.codes, numbers)
    few = numbers.max() <= 1.25 * held.max() + 0.5
    if few and held.max() > 2 and (low <= 1).mean() >= (0.5 if one else MOSTLY):
        return True
    length = int(np.ptp(numbers))
    return one and bool((np.diff(numbers) > 0).all()) and length < 1.5 * len(numbers)


def _numbers(each: _Unused) -> Codes | None:
    """The number at the end of each row's text; None where some text has none."""
    found = [_LAST_NUMBER.fullmatch(text) for text in each.texts]
    if not all(found) or any(_is_number(text) and not text.isdigit() for text in each.texts):
        return None
    values = np.array([int(one[2]) for one in found if one is not None], dtype=np.intp)
    return values[each.codes]


def _is_number(text: str) -> bool:
    return bool(re.fullmatch(r"[+-]?\d*[.,]?\d+", text, re.ASCII))


def _are_visits(each: _Unused, place: Grouping) -> bool:
    """Whether the same days come back for each treatment, so that rows are visits to its plots."""
    if not (each.called(_DATE, _DATE_TOO) or all(map(_is_a_time, each.texts))):
        return False
    held = np.zeros((place.count, len(each.texts)), dtype=int)
    np.add.at(held, (place.codes, each.codes), 1)
    usual = np.median(held, axis=0)
    alike = (held == usual).all(axis=1).mean()
    return bool(alike >= MOSTLY and np.count_nonzero(usual) > 1)


def _is_a_time(text: str) -> bool:
    return looks_like_a_day(text) or is_a_week(text)


def _days(each: _Unused) -> list[date]:
    """The days among the texts of a column."""
    read = [readings_of(text) for text in each.values]
    both = [one[0] or one[1] for one in read if one is not None]
    return [day for day in both if day is not None]


def _some(texts: tuple[str, ...]) -> str:
    listed = ", ".join(shown(text)[1:-1] for text in texts[:4])
    return listed if len(texts) <= 4 else f"{listed} and {len(texts) - 4} more"
