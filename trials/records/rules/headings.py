"""Recognises what kind of file the headings make it, and what is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass

from trials.model.former_names import column_today
from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Faults, Wrong, nearest, shown
from trials.records.mapping.numbers import unit_word
from trials.records.mapping.reading import own_unit
from trials.records.rules.days import is_a_week
from trials.records.rules.factors import plain_heading
from trials.records.rules.forms import FORMS, Form

# A file that shares less than this part of its headings with a kind is not taken for it.
LEAST_LIKENESS = 0.5
CLOSE_LIKENESS = 0.6


@dataclass(frozen=True, slots=True)
class Recognised:
    """A file whose kind is known: its cells, and the place of each heading that is of use.

    ``whole`` says that the headings are all there and all known.
    """

    form: Form
    cells: Cells
    places: dict[str, int]
    whole: bool

    @property
    def factor_names(self) -> tuple[str, ...]:
        """The headings that are not the form's own: factors of a trial."""
        return tuple(name for name in self.places if name not in self.form.names)


def recognise(cells: Cells, faults: Faults) -> Recognised | None:
    """Find the kind of a file from its headings; None if it has none, and ``faults`` says why."""
    form = nearest_form(cells)
    plain = _plain(form, cells)
    if _likeness(form, set(plain)) < LEAST_LIKENESS:
        faults.add(cells.file, cells.heading_row, None, _no_kind(cells, form, set(plain)))
        return None
    before = len(faults)
    places: dict[str, int] = {}
    for place, name in enumerate(plain):
        if not name:
            _fault_at(
                cells,
                f"Column {place + 1} has cells but no heading.",
                "Give it a heading, or remove it.",
                faults,
            )
        elif name in places:
            _fault_at(
                cells,
                "Two columns have this heading.",
                "Give each column its own heading, or remove one.",
                faults,
                name,
            )
        else:
            places[name] = place
    missing = [name for name in form.must if name not in places]
    for name in missing:
        _fault_at(
            cells,
            f"A file of {_title(form)} needs this column.",
            _add_or_rename(name, [other for other in places if other not in form.names]),
            faults,
            name,
        )
    if not form.factor_columns:
        for name in [name for name in places if name not in form.names]:
            del places[name]
            _fault_at(cells, *_unknown(form, name, missing), faults, name)
    return Recognised(form, cells, places, len(faults) == before)


def own_form(cells: Cells) -> Form | None:
    """The kind of a table whose headings are exactly ours; None where they are not."""
    return next((form for form in FORMS.values() if _is_exactly(form, _plain(form, cells))), None)


def fits_well(cells: Cells) -> bool:
    """Whether the headings are ours but for slips, so that the slips are what is to be told."""
    return any(
        _likeness(form, set(_plain(form, cells))) >= CLOSE_LIKENESS for form in FORMS.values()
    )


def nearest_form(cells: Cells) -> Form:
    """The kind whose headings are most like those of a table."""
    return max(FORMS.values(), key=lambda form: _likeness(form, set(_plain(form, cells))))


def _plain(form: Form, cells: Cells) -> list[str]:
    """The headings in small letters; a former name of a column of the form as today's."""
    return [column_today(form.sheet, plain_heading(name)) for name in cells.heading]


def _is_exactly(form: Form, headings: list[str]) -> bool:
    return len(set(headings)) == len(headings) and _likeness(form, set(headings)) == 1


def _likeness(form: Form, headings: set[str]) -> float:
    """The part of the headings, had and needed, that agree; 1 is a file without fault."""
    had = headings & set(form.names)
    other = set() if form.factor_columns else headings - set(form.names)
    needed = had | set(form.must)
    return len(had) / len(needed | other)


def _title(form: Form) -> str:
    return form.sheet.value.replace("_", " ")


def _no_kind(cells: Cells, form: Form, headings: set[str]) -> Wrong:
    weeks = [name for name in cells.heading if is_a_week(name)]
    if len(weeks) > 1:
        return Wrong(
            f"{shown(weeks[0])} is a week, not a day.",
            "Write the day of the cut in each heading, as 2026-07-20.",
        )
    if headings & set(form.names):
        missing = ", ".join(name for name in form.must if name not in headings)
        return Wrong(
            f"These headings fit no kind of file. The nearest is {_title(form)}, "
            f"which also needs: {missing}.",
            f"The headings of {_title(form)} are: {', '.join(form.names)}.",
        )
    return Wrong(
        "The first row has no known heading.",
        f"Put the headings in the first row, such as those of cuts: "
        f"{', '.join(FORMS[Sheet.CUTS].names)}.",
    )


def _fault_at(
    cells: Cells, problem: str, remedy: str, faults: Faults, column: str | None = None
) -> None:
    faults.add(cells.file, cells.heading_row, column, Wrong(problem, remedy))


def _add_or_rename(name: str, unknown: list[str]) -> str:
    near = nearest(name, [other for other in unknown if not _other_unit(name, other)])
    if near is not None:
        return f"Is it the column {shown(near)}? Then call it {name}."
    return f"Add a column with the heading {name}."


def _other_unit(own: str, heading: str) -> bool:
    """Whether a heading names another unit than a column of ours, so that it is not that column."""
    unit = own_unit(own)
    written = unit_word(heading.rpartition("_")[2])
    return unit is not None and written is not None and written is not unit


def _unknown(form: Form, name: str, missing: list[str]) -> tuple[str, str]:
    alike = [own for own in form.names if not _other_unit(own, name)]
    near = nearest(name, [own for own in missing if own in alike]) or nearest(name, alike)
    ask = f"Did you mean {near}? " if near else ""
    return (
        f"A file of {_title(form)} has no such column.",
        f"{ask}Remove it, or use one of: {', '.join(form.names)}.",
    )
