"""Guesses how somebody's own sheet is to be read, and knows which of it must be asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trials.batch import Sheet
from trials.records.plot_labels import BY, KnownPlots, label_of
from trials.records.reading import (
    DAY,
    VALUE,
    DateOrder,
    DecimalMark,
    ReadColumn,
    Reading,
    Spread,
    distinct,
)
from trials.records.reading_days import looks_like_a_day, readings_of
from trials.records.reading_numbers import is_either, marks_of
from trials.records.reading_plots import of_its_trial
from trials.records.reading_questions import TOLD_ONCE, Question, questions, texts_of
from trials.records.reading_title import by_title
from trials.records.reading_words import (
    CORE,
    HINTS,
    TOTALS,
    field_of,
    heading_words,
    label_in,
    label_over,
    spread_of,
    unit_of,
)
from trials.records.sheets import FORMS, Kind
from trials.records.spellings import Cells, Spelled

# What headings of a kind may hold, by the kinds of sheet that are laid out so.
_WIDE: dict[str, tuple[Sheet, ...]] = {
    "day": (Sheet.CUTS, Sheet.STAND_COUNTS, Sheet.SCORES),
    "plot": (Sheet.CUTS, Sheet.STAND_COUNTS, Sheet.SCORES),
    "grade_cm": (Sheet.CUTS,),
    "stem": (Sheet.STEM_SAMPLES,),
}
_LEAST_SPREAD = 2
_LONGEST_MARK = 3
NONE_KNOWN = KnownPlots()
_MOST_REASON = 30


@dataclass(frozen=True, slots=True, eq=False)
class Guess:
    """A sheet of somebody's own as it would be read, and what must be asked before it is.

    ``sheets`` are the kinds it may be; the guess is for the first of them. One that was ``agreed``
    before is no guess any more. ``plots`` are those that are known.
    """

    cells: Cells
    reading: Reading
    questions: tuple[Question, ...]
    sheets: tuple[Sheet, ...]
    agreed: bool = False
    plots: KnownPlots = NONE_KNOWN


@dataclass(frozen=True, slots=True)
class _Candidate:
    reading: Reading
    used: int
    lacking: tuple[str, ...]


def guess(cells: Cells, plots: KnownPlots = NONE_KNOWN) -> Guess | None:
    """The likeliest reading of a table; None where it is like no kind of records.

    Parameters
    ----------
    cells
        The table, whatever its headings.
    plots
        Those that are known.
    """
    found = [c for sheet in Sheet for c in _candidates(cells, sheet, plots)]
    found = [c for c in found if _can_be(c, len(cells.heading))]
    if not found:
        return None
    best = max(_rank(c, cells.file) for c in found)
    likely = [c for c in found if _rank(c, cells.file) == best]
    likely.sort(key=lambda c: c.reading.sheet is not Sheet.CUTS)  # what is recorded most
    reading = _settled(likely[0].reading, cells, plots)
    sheets = tuple(dict.fromkeys(c.reading.sheet for c in likely))
    return Guess(cells, reading, questions(reading, cells, sheets, plots), sheets, plots=plots)


def guess_as(cells: Cells, sheet: Sheet, plots: KnownPlots = NONE_KNOWN) -> Guess | None:
    """The likeliest reading of a table as records of a stated kind."""
    found = [c for c in _candidates(cells, sheet, plots) if _can_be(c, len(cells.heading))]
    if not found:
        return None
    reading = _settled(max(found, key=lambda c: _rank(c, cells.file)).reading, cells, plots)
    return Guess(cells, reading, questions(reading, cells, (), plots), (sheet,), plots=plots)


def _can_be(candidate: _Candidate, headings: int) -> bool:
    """A sheet may lack what can be told once for all of it, if it is else well known."""
    if candidate.lacking and candidate.used * 2 <= headings:
        return False
    return set(candidate.lacking) <= {DAY.get(candidate.reading.sheet), *TOLD_ONCE}


def _rank(candidate: _Candidate, file: str) -> tuple[int, int, int]:
    name = file.casefold()
    hinted = any(word in name for word in HINTS.get(candidate.reading.sheet, ()))
    return -len(candidate.lacking), candidate.used, int(hinted)


def _candidates(cells: Cells, sheet: Sheet, plots: KnownPlots) -> Iterator[_Candidate]:
    heading = distinct(cells.heading)
    columns: list[ReadColumn] = []
    left: list[str] = []
    taken: set[str] = set()
    for name, column in zip(heading, cells.columns, strict=True):
        field = field_of(name, sheet)
        if field is None or field in taken or not _fits(column, field, sheet):
            left.append(name)
            continue
        taken.add(field)
        columns.append(ReadColumn(name, field, unit_of(name, field)))
    if (day := DAY.get(sheet)) is not None and day not in taken:
        days = [name for name in left if _holds_days(cells, name)]
        if len(days) == 1:  # whatever it is called, in whatever tongue
            taken.add(day)
            left.remove(days[0])
            columns.append(ReadColumn(days[0], day))
    if sheet in VALUE and "plot" not in taken:
        labels = _labels(cells, left, plots)
        columns += labels
        left = [name for name in left if name not in {column.heading for column in labels}]
        taken |= {"plot"} if labels else set()
    core = CORE.get(sheet, FORMS[sheet].must)
    lacking = tuple(field for field in core if field not in taken)
    yield _candidate(sheet, columns, left, None, lacking)
    value = VALUE.get(sheet)
    kinds = [spread_of(name, plots.codes) or label_over(name, plots) for name in left]
    by_label = {kind: _WIDE["plot"] for kind in kinds if kind and label_of(kind) is not None}
    for kind, sheets in {**_WIDE, **by_label}.items():
        wide = [name for name, its in zip(left, kinds, strict=True) if its == kind]
        if sheet not in sheets or len(wide) < _LEAST_SPREAD or value is None or value in taken:
            continue
        field = day if kind == "day" and day is not None else kind
        if field in taken:
            continue
        rest = [name for name in left if name not in wide]
        culls = [] if kind != "grade_cm" else [name for name in rest if _counts(cells, name)]
        unit = heading_words(wide[0]).unit
        named = [*columns, *(ReadColumn(n, value, sets=("cull_reason", n.strip())) for n in culls)]
        spread = Spread(field, value, unit)
        said = "plot" if label_of(field) is not None else field
        still = tuple(name for name in lacking if name not in (said, value))
        others = [name for name in rest if name not in culls]
        yield _candidate(sheet, named, others, spread, still, len(wide))


def _labels(cells: Cells, left: Sequence[str], plots: KnownPlots) -> list[ReadColumn]:
    """The columns that tell plots by their labels rather than by their codes."""
    found: dict[str, ReadColumn] = {}
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        label = label_in(name, column.used(), plots) if name in left else None
        if label is not None and label not in found:
            found[label] = ReadColumn(name, BY + label)
    return list(found.values())


def _candidate(
    sheet: Sheet,
    columns: list[ReadColumn],
    left: list[str],
    spread: Spread | None,
    lacking: tuple[str, ...],
    wide: int = 0,
) -> _Candidate:
    out = [ReadColumn(name, None) for name in left]
    if FORMS[sheet].factor_columns:  # any other column of the plots may be a factor
        out = [ReadColumn(name, _factor(name)) for name in left]
    always = (("outcome", "picked"),) if sheet is Sheet.CUTS else ()
    if any(column.field == "outcome" for column in columns):
        always = ()
    reading = Reading(sheet, (*columns, *out), spread, always)
    return _Candidate(reading, len(columns) + wide, lacking)


def _factor(heading: str) -> str:
    """What a factor of the plots is called here."""
    if field_of(heading, Sheet.VARIETIES) == "variety":
        return "variety"
    return heading_words(heading).words.replace(" ", "_")


def _fits(column: Spelled, field: str, sheet: Sheet) -> bool:
    """Whether most cells of a column can be what the field holds."""
    kind = FORMS[sheet].column(field).kind
    texts = [text.strip() for text in column.texts if text.strip()][:500]
    # Marks such as x, - and n/a stand for a count or a day that there is not.
    texts = [text for text in texts if len(text) > _LONGEST_MARK or any(map(str.isdigit, text))]
    if not texts:
        return True
    if kind is Kind.DATE:
        return sum(looks_like_a_day(t) or t.isdigit() for t in texts) * 2 > len(texts)
    if kind in (Kind.WHOLE, Kind.NUMBER):
        return sum(any(c.isdigit() for c in t) for t in texts) * 3 > len(texts)
    return True


def _holds_days(cells: Cells, name: str) -> bool:
    """Whether a column holds days and nothing else."""
    place = distinct(cells.heading).index(name)
    texts = [text.strip() for text in cells.columns[place].used() if text.strip()]
    return bool(texts) and all(map(looks_like_a_day, texts))


def _counts(cells: Cells, name: str) -> bool:
    """Whether a column holds counts and nothing else, so that its heading may be a reason."""
    place = distinct(cells.heading).index(name)
    texts = [text.strip() for text in cells.columns[place].texts if text.strip()]
    is_total = bool(set(heading_words(name).words.split()) & TOTALS)
    return (
        bool(texts)
        and not is_total
        and len(name) <= _MOST_REASON
        and all(t.isdecimal() for t in texts)
    )


def _settled(reading: Reading, cells: Cells, plots: KnownPlots) -> Reading:
    """The reading with all that the cells themselves leave no doubt about."""
    days = texts_of(reading, cells, (Kind.DATE,), headings=True)
    numbers = texts_of(reading, cells, (Kind.NUMBER, Kind.WHOLE))
    first = [cells.columns[0][row].strip().casefold() for row in range(len(cells))][-50:]
    return replace(
        of_its_trial(by_title(reading, cells, plots), cells, plots),
        dates=_order(days),
        decimal=_mark(numbers),
        no_records=tuple(dict.fromkeys(word for word in first if word in TOTALS)),
    )


def _order(texts: Sequence[str]) -> DateOrder | None:
    """The one order under which every day there is a day; None where both or neither do."""
    read = [both for text in texts if (both := readings_of(text, 2024)) is not None]
    day_first = all(day is not None for day, _ in read)
    month_first = all(month is not None for _, month in read)
    if day_first == month_first:
        return None
    return DateOrder.DAY if day_first else DateOrder.MONTH


def _mark(texts: Sequence[str]) -> DecimalMark | None:
    """The one decimal mark under which every number there is a number."""
    marks = frozenset(DecimalMark)
    for text in texts:
        its = marks_of(text)
        if its:
            marks &= its
    if len(marks) == 1:
        return next(iter(marks))
    return None if any(map(is_either, texts)) or not marks else DecimalMark.POINT
