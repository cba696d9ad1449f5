"""Guesses how somebody's own sheet is to be read, and knows which of it must be asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trials.errors import TallybedError
from trials.model.rows import Sheet
from trials.records.encoded_column import Cells, Spelled
from trials.records.files.sheet_parts import is_total
from trials.records.mapping.cell_text import is_a_number, understood
from trials.records.mapping.columns import texts_of
from trials.records.mapping.grades import with_grades
from trials.records.mapping.noted import heading_counts
from trials.records.mapping.numbers import is_either, marks_of
from trials.records.mapping.plot_labels import BY, KnownPlots, label_of
from trials.records.mapping.plots import of_its_trial, understood_codes
from trials.records.mapping.questions import TOLD_ONCE, questions
from trials.records.mapping.reading import (
    ASKED,
    DAY,
    TWO,
    VALUE,
    DateOrder,
    DecimalMark,
    Question,
    ReadColumn,
    Reading,
    Spread,
    distinct,
)
from trials.records.mapping.titles import by_title
from trials.records.mapping.totals import totals_in
from trials.records.mapping.words import (
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
from trials.records.rules.days import looks_like_a_day, readings_of
from trials.records.rules.forms import FORMS, Kind

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


class ReadingNeeded(TallybedError):
    """Sheets that are not ours and whose reading is not agreed; ``guesses`` has one for each."""

    def __init__(self, guesses: Sequence[Guess]) -> None:
        self.guesses = tuple(guesses)
        lines = ["Nothing was stored: how to read these sheets is not agreed yet."]
        for each in self.guesses:
            kind = each.reading.sheet.value.replace("_", " ")
            lines.append(f"  {each.cells.file}: most likely {kind}.")
            lines += [
                f"    {question.words} ({', '.join(question.answers) or question.key})"
                for question in each.questions
            ]
        super().__init__("\n".join(lines))


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


@dataclass(slots=True)
class _Sorted:
    """The columns of a table that are taken for columns of ours, and the headings that are left."""

    columns: list[ReadColumn]
    left: list[str]
    taken: set[str]

    def take(self, columns: Sequence[ReadColumn], *fields: str) -> None:
        """Take headings out of those that are left."""
        self.columns += columns
        self.left = [name for name in self.left if name not in {c.heading for c in columns}]
        self.taken |= set(fields)


def _candidates(cells: Cells, sheet: Sheet, plots: KnownPlots) -> Iterator[_Candidate]:
    there = _by_words(cells, sheet)
    _take_the_day(there, cells, sheet)
    if sheet in VALUE and "plot" not in there.taken:
        labels = _labels(cells, there.left, plots)
        there.take(labels, *(["plot"] if labels else []))
    core = CORE.get(sheet, FORMS[sheet].must)
    lacking = tuple(field for field in core if field not in there.taken)
    yield _candidate(sheet, there.columns, there.left, None, lacking)
    yield from _with_counts(sheet, there, cells, lacking)
    value = VALUE.get(sheet)
    if value is None or value in there.taken:
        return
    told = {name: _told_by(name, sheet, plots) for name in there.left}
    for fields in dict.fromkeys(fields for fields in told.values() if fields):
        wide = [name for name, its in told.items() if its == fields]
        if len(wide) >= _least(fields, wide, sheet) and not set(fields) & there.taken:
            yield _wide(sheet, there, cells, wide, fields, lacking)


def _with_counts(
    sheet: Sheet, there: _Sorted, cells: Cells, lacking: tuple[str, ...]
) -> Iterator[_Candidate]:
    """Counts under headings of no known meaning, such as crews or sizes: each is asked about."""
    bunches = any(c.field == "stems" and heading_counts(c.heading) for c in there.columns)
    if sheet is not Sheet.CUTS or ("stems" in there.taken and not bunches):
        return
    counts = [
        name
        for name in there.left
        if _holds_counts(cells, name) and _told_by(name, sheet, NONE_KNOWN) == ()
    ]
    if counts and "plot" in there.taken:
        asked = [ReadColumn(name, ASKED) for name in counts]
        left = [name for name in there.left if name not in counts]
        still = tuple(name for name in lacking if name != "stems")
        found = _candidate(sheet, [*there.columns, *asked], left, None, still)
        yield replace(found, used=len(there.columns) + int(bunches))


def _by_words(cells: Cells, sheet: Sheet) -> _Sorted:
    """Each heading whose words stand for a column of the sheet that its cells can be."""
    found = _Sorted([], list(distinct(cells.heading)), set())
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        field = field_of(name, sheet)
        if sheet is Sheet.CUTS and heading_counts(name):
            field = "stems"
        if field is not None and field not in found.taken and _fits(column, field, sheet):
            found.take([ReadColumn(name, field, unit_of(name, field))], field)
    return found


def _take_the_day(there: _Sorted, cells: Cells, sheet: Sheet) -> None:
    """The only other column of days is the day, whatever it is called and in whatever tongue."""
    day = DAY.get(sheet)
    if day is None or day in there.taken:
        return
    days = [name for name in there.left if _holds_days(cells, name)]
    if len(days) == 1:
        there.take([ReadColumn(days[0], day)], day)


def _told_by(heading: str, sheet: Sheet, plots: KnownPlots) -> tuple[str, ...]:
    """The columns of ours that a heading of a wide sheet tells of; none of any other heading."""
    fields = []
    for part in heading.split(TWO):
        kind = spread_of(part, plots) or label_over(part, plots)
        kinds = _WIDE["plot"] if label_of(kind) is not None else _WIDE.get(kind or "", ())
        if kind is None or sheet not in kinds:
            return ()
        fields.append(DAY[sheet] if kind == "day" else kind)
    return tuple(fields) if len(fields) < 3 and len(set(fields)) == len(fields) else ()


def _least(fields: tuple[str, ...], wide: Sequence[str], sheet: Sheet) -> int:
    """How many headings make a sheet wide: one day does, as on the first day of picking."""
    with_unit = fields == ("grade_cm",) and heading_words(wide[0]).unit is not None
    return 1 if fields == (DAY.get(sheet),) or with_unit else _LEAST_SPREAD


def _wide(
    sheet: Sheet,
    there: _Sorted,
    cells: Cells,
    wide: Sequence[str],
    fields: tuple[str, ...],
    lacking: tuple[str, ...],
) -> _Candidate:
    """A sheet whose headings tell facts, with counts under them."""
    value = VALUE[sheet]
    rest = [name for name in there.left if name not in wide]
    graded = fields == ("grade_cm",)
    culls = [name for name in rest if graded and _counts(cells, name)]
    unit = next((its for part in wide[0].split(TWO) if (its := heading_words(part).unit)), None)
    named = [
        *there.columns,
        *(ReadColumn(n, value, sets=("cull_reason", n.strip())) for n in culls),
    ]
    spread = Spread(fields[0], value, unit, fields[1] if len(fields) > 1 else None)
    said = {"plot" if label_of(field) is not None else field for field in fields}
    still = tuple(name for name in lacking if name not in said and name != value)
    others = [name for name in rest if name not in culls]
    return _candidate(sheet, named, others, spread, still, len(wide))


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
    texts = [text for text in texts if not is_total(text)]
    if not texts:
        return True
    if field == "cull_reason" and all(text.isdecimal() for text in texts):
        return False  # how many were culled
    if kind is Kind.DATE:
        return sum(looks_like_a_day(t) or t.isdigit() for t in texts) * 2 > len(texts)
    if kind in (Kind.WHOLE, Kind.NUMBER):
        return sum(any(c.isdigit() for c in t) or is_a_number(t) for t in texts) * 3 > len(texts)
    return True


def _holds_days(cells: Cells, name: str) -> bool:
    """Whether a column holds days and nothing else."""
    place = distinct(cells.heading).index(name)
    texts = [text.strip() for text in cells.columns[place].used() if text.strip()]
    return bool(texts) and all(map(looks_like_a_day, texts))


def _holds_counts(cells: Cells, name: str) -> bool:
    """Whether a column holds counts and nothing else, and is no total of others."""
    place = distinct(cells.heading).index(name)
    texts = [text.strip() for text in cells.columns[place].texts if text.strip()]
    says_total = bool(set(heading_words(name).words.split()) & TOTALS)
    return bool(texts) and not says_total and all(t.isdecimal() for t in texts)


def _counts(cells: Cells, name: str) -> bool:
    """Whether a column holds counts, and its heading may be a reason for culling."""
    may_be = len(name) <= _MOST_REASON and not any(map(str.isdigit, name))
    return may_be and _holds_counts(cells, name)


def _settled(reading: Reading, cells: Cells, plots: KnownPlots) -> Reading:
    """The reading with all that the cells themselves leave no doubt about."""
    days = texts_of(reading, cells, (Kind.DATE,), headings=True)
    numbers = texts_of(reading, cells, (Kind.NUMBER, Kind.WHOLE))
    reading = of_its_trial(by_title(reading, cells, plots), cells, plots)
    settled = replace(
        reading,
        dates=_order(days),
        decimal=_mark(numbers),
        no_records=totals_in(reading, cells),
        cells=(*understood(reading, cells), *understood_codes(reading, cells, plots)),
    )
    return with_grades(settled, cells, plots)


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
