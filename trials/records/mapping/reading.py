"""How somebody's own sheet is read: what each column is, and what its cells and blanks mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from hashlib import sha256

from trials.model.rows import Sheet
from trials.records.rules.days import looks_like_a_day
from trials.records.rules.factors import plain_heading


class DateOrder(StrEnum):
    """Which number of a day such as 01/02/2026 comes first."""

    DAY = "day first"
    MONTH = "month first"


class DecimalMark(StrEnum):
    """What stands before the fraction of a number."""

    POINT = "point"
    COMMA = "comma"


class Meaning(StrEnum):
    """What a blank cell, or a mark such as x, says of a count."""

    NOT_RECORDED = "not recorded"
    ZERO = "zero"
    MISSED = "missed"


class Blank(StrEnum):
    """What an empty cell says where a plot, its label or a day is told."""

    AS_ABOVE = "as above"
    NOT_RECORDED = "not recorded"


class Unit(StrEnum):
    """What a length, or an area, is measured in."""

    CM = "cm"
    MM = "mm"
    IN = "in"
    M = "m"
    FT = "ft"
    SQ_M = "m2"
    SQ_FT = "sq ft"


IN_CM: dict[Unit, Decimal] = {
    Unit.CM: Decimal(1),
    Unit.MM: Decimal("0.1"),
    Unit.IN: Decimal("2.54"),  # exactly, since 1959
    Unit.M: Decimal(100),
    Unit.FT: Decimal("30.48"),
    Unit.SQ_M: Decimal(10_000),  # square centimetres
    Unit.SQ_FT: Decimal("929.0304"),
}
# Between the words of an upper heading and those of the lower one, where both say something.
TWO = " / "
NOTHING = "\0not recorded"  # no text of a file: what an answer says of a cell
ASKED = "?"  # the column of ours that a column goes to, where that is still to be asked
AREAS = (Unit.SQ_M, Unit.SQ_FT)
LENGTHS = (Unit.CM, Unit.MM, Unit.IN, Unit.M, Unit.FT)


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask: its name, the words, and the answers there are (none: write it)."""

    key: str
    words: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadColumn:
    """One column of the source.

    Attributes
    ----------
    heading
        As it is written there.
    field
        The column of ours that its cells go to; None leaves it out.
    unit
        What its lengths are measured in, where they are lengths.
    sets
        Where the heading itself is a fact: the column of ours it goes to, and what it says there.
    blank
        What an empty cell under a plot, a label or a day says, where there are some.
    """

    heading: str
    field: str | None
    unit: Unit | None = None
    sets: tuple[str, str] | None = None
    blank: Blank | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """A wide sheet: every heading that is not named is a fact of one kind.

    Attributes
    ----------
    headings
        The column of ours that the headings go to: ``cut_on``, ``plot``, ``grade_cm``, ``stem``.
    cells
        The column of ours that the cells under them go to: ``stems``, ``living``, ``length_cm``.
    unit
        What lengths in those headings, or in those cells, are measured in.
    below
        Of headings in two rows: the column of ours that the lower row goes to.
    """

    headings: str
    cells: str
    unit: Unit | None = None
    below: str | None = None

    def parts(self, heading: str) -> tuple[tuple[str, str], ...]:
        """Each column of ours that a heading tells something of, and what it says."""
        if self.below is None:
            return ((self.headings, heading),)
        above, _, under = heading.partition(TWO)
        return ((self.headings, above.strip()), (self.below, under.strip()))


@dataclass(frozen=True, slots=True)
class Reading:
    """An agreed way to read every file with the same headings.

    Attributes
    ----------
    sheet
        The kind of records in it.
    columns, spread
        What each column is; ``spread`` speaks for the headings that are not named.
    always
        What holds for every row and stands in no column: (column of ours, what it says).
    dates, year
        The order of days written in numbers, and the year of days written without one.
    decimal
        The mark before a fraction.
    blank, marks
        What an empty cell of a count says, and what marks such as ``x`` say.
    no_records
        Rows that begin with one of these words are totals, not records.
    trial
        Where plots are told by block, variety and the like: of which trial they are.
    cells
        How cells are read that say a number in another way: (kind of ``reading_noted``, answer).
    once
        Answers about one table alone, such as what becomes of its hidden rows; never remembered.
    grades
        The grades in cm of the plots' trials, for which grades in inches are taken.
    called
        Shortened names of varieties and other levels: (as written, the name it is short for).
    """

    sheet: Sheet
    columns: tuple[ReadColumn, ...]
    spread: Spread | None = None
    always: tuple[tuple[str, str], ...] = ()
    dates: DateOrder | None = None
    year: int | None = None
    decimal: DecimalMark | None = None
    blank: Meaning | None = None
    marks: tuple[tuple[str, Meaning], ...] = ()
    no_records: tuple[str, ...] = ()
    trial: str | None = None
    cells: tuple[tuple[str, str], ...] = ()
    once: tuple[tuple[str, str], ...] = ()
    grades: tuple[int, ...] = ()
    called: tuple[tuple[str, str], ...] = ()

    def column(self, heading: str) -> ReadColumn | None:
        """What is said of a heading by name."""
        plain = plain_heading(heading)
        return next((c for c in self.columns if plain_heading(c.heading) == plain), None)


# The column of each sheet whose cells are counted or measured, and the one that holds its day.
VALUE: dict[Sheet, str] = {
    Sheet.CUTS: "stems",
    Sheet.STAND_COUNTS: "living",
    Sheet.STEM_SAMPLES: "length_cm",
    Sheet.SCORES: "value",
}
COUNTS = ("stems", "living")
DAY: dict[Sheet, str] = {
    Sheet.CUTS: "cut_on",
    Sheet.STAND_COUNTS: "counted_on",
    Sheet.STEM_SAMPLES: "cut_on",
    Sheet.SCORES: "scored_on",
    Sheet.EVENTS: "happened_on",
}
# The unit our own columns are in, by the end of their names.
OWN_UNIT: dict[str, Unit] = {"_cm": Unit.CM, "_m": Unit.M, "_m2": Unit.SQ_M}


def own_unit(field: str | None) -> Unit | None:
    """The unit in which a column of ours holds lengths or areas; None where it holds neither."""
    return next((unit for end, unit in OWN_UNIT.items() if (field or "").endswith(end)), None)


def units_of(field: str | None) -> tuple[Unit, ...]:
    """The units in which somebody may have written what a column of ours holds."""
    return AREAS if own_unit(field) in AREAS else LENGTHS


def distinct(heading: Sequence[str]) -> tuple[str, ...]:
    """The headings, each unlike the others: a repeated or empty one is told by its column."""
    from openpyxl.utils import get_column_letter

    seen: set[str] = set()
    named = []
    for place, written in enumerate(heading, 1):
        name = written.strip()
        if not plain_heading(name) or plain_heading(name) in seen:
            name = f"{name} (column {get_column_letter(place)})".strip()
        seen.add(plain_heading(name))
        named.append(name)
    return tuple(named)


def signature(heading: Sequence[str]) -> str:
    """What the headings of a file are known by; a column more for another day changes nothing."""
    plain = {
        TWO.join("<day>" if looks_like_a_day(part) else plain_heading(part) for part in parts)
        for parts in (name.split(TWO) for name in distinct(heading))
    }
    return sha256("\n".join(sorted(plain)).encode()).hexdigest()
