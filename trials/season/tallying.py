"""Tallying at the bed: what was typed for a plot goes through the judge of all records."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from enum import StrEnum
from functools import cache, partial
from pathlib import Path
from typing import TypeVar

from trials import records
from trials.errors import Fault, RecordsRefused, Remedy, TrialState, Verb
from trials.model.plot_day import GradesAndReasons, PlotOfWalk, PlotOnDay, RecordedMeanwhile
from trials.model.rows import Batch, Known, Sheet, Signed
from trials.model.trial import EventKind, Outcome
from trials.records.faults import shown
from trials.records.mapping.numbers import length
from trials.records.mapping.reading import DecimalMark, Unit
from trials.records.plan.file import stored_plan
from trials.records.rules.cells import unseen
from trials.store import DraftPlace, Purpose, Store
from trials.store.history.changes import What

Key = TypeVar("Key")


_NOTHING_TYPED = Fault(
    f"{Sheet.CUTS.value}.csv",
    None,
    None,
    "No stems are filled in.",
    "Write 0 where there were none, or record 'nothing to cut' or 'not picked'. These two differ.",
)

# Judging and storing are one turn: of two phones at one plot the second is judged by the first.
_TURN = threading.Lock()


class Tally(StrEnum):
    """What the crew says of a plot: five different facts, each a tap of its own."""

    COUNTED = "counted"
    NOTHING = "nothing to cut"
    NOT_PICKED = "not picked"
    LOST = "lost"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class TallyEntry:
    """What was typed for one plot on one day, as it was typed: nothing is judged here.

    Attributes
    ----------
    stems, culls
        The text of each grade's and each reason's field; an empty field is no row, never 0.
    lengths, lengths_in
        The text of each measured stem's field, where it is typed in cm and where in inches; a unit
        that is written behind the number goes before the field's.
    words
        Why the plot was lost, or the note.
    """

    plot: str
    day: date
    what: Tally
    stems: tuple[tuple[int, str], ...] = ()
    culls: tuple[tuple[str, str], ...] = ()
    lengths: tuple[str, ...] = ()
    lengths_in: tuple[str, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """That an entry is stored; ``again`` says that it was before, by the same submission."""

    plot: str
    day: date
    again: bool


def walk(store: Path, day: date) -> tuple[PlotOfWalk, ...]:
    """The plots to tally on a day, in walking order, with what is done and what is left."""
    return Store.open(store).bed.walk(day)


def plot_on_day(store: Path, trial: str, plot: str, day: date) -> PlotOnDay:
    """What is recorded of a plot on a day, and what its trial counts by."""
    kept = Store.open(store)
    told = kept.bed.plot_on_day(trial, plot, day)
    return replace(told, planned_grades_cm=_planned_grades_cm(kept, trial))


def grades_and_reasons(store: Path, trial: str) -> GradesAndReasons:
    """What a trial counts by: the grades it has planned and used, and its reasons for culling."""
    kept = Store.open(store)
    used = kept.bed.counts_by(trial)
    return replace(used, planned_grades_cm=_planned_grades_cm(kept, trial))


def _planned_grades_cm(kept: Store, trial: str) -> tuple[int, ...]:
    return _grades_of_plan(kept.plan(trial).text) if trial in kept.planned() else ()


@cache
def _grades_of_plan(text: str) -> tuple[int, ...]:
    return stored_plan(text, "the stored plan").plan.grades_cm


def tally(store: Path, entry: TallyEntry, signed: Signed, accept: str | None = None) -> Recorded:
    """Record what the crew tallied at a plot; a submission that comes twice is recorded once.

    ``accept`` is why figures beyond what is likely are true; it is kept with them.

    Raises
    ------
    RecordedMeanwhile
        The plot's picking day is recorded already, also if another process did so just now; what
        stands there is for correcting.
    RecordsRefused
        Something typed cannot be right; every fault is listed and nothing was stored.
    RecordsHeld
        Something typed is unlikely, and nobody says why it is true.
    """
    kept = Store.open(store)
    with _TURN:
        before = kept.bed.before(entry.plot, entry.day, signed)
        if before is None:
            return Recorded(entry.plot, entry.day, again=True)
        place = (before.trial, entry.plot, entry.day)
        refuse = partial(_refuse_second, entry, signed)
        refuse(before.held)  # before the judge, who would speak of rows
        batch = _judged(entry, before.trial, before.known, accept)
        again = kept.bed.record(batch, signed, place, refuse)
    return Recorded(entry.plot, entry.day, again=again)


@dataclass(frozen=True, slots=True)
class SprayEntry:
    """What was typed of a spray, as it was typed; no plots = the whole trial.

    ``at`` is the local time of day as HH:MM when spraying ended, ``hours`` the re-entry time on
    the label.
    """

    trial: str
    day: date
    product: str
    hours: str
    at: str = ""
    plots: tuple[str, ...] = ()
    words: str = ""


def record_spray(store: Path, entry: SprayEntry, signed: Signed) -> bool:
    """Record a spray; True where the same submission had recorded it before.

    Raises
    ------
    RecordsRefused
        Something typed cannot be right; every fault is listed and nothing was stored.
    """
    kept = Store.open(store)
    row = {
        "trial": entry.trial,
        "happened_on": entry.day.isoformat(),
        "kind": EventKind.SPRAYED.value,
        "reason": entry.words.strip(),
        "product": entry.product.strip(),
        "sprayed_at": entry.at.strip(),
        "re_entry_hours": entry.hours.strip().replace(",", "."),
    }
    tables = {Sheet.EVENTS: [{**row, "plot": plot} for plot in entry.plots or ("",)]}
    with _TURN:
        if kept.bed.is_recorded(signed):
            return True
        require_seen(tables)
        batch = records.judge_rows(tables, kept.bed.known(entry.trial))
        kept.add(batch, signed, What.TALLY)
    return False


def correct_tally(
    store: Path, entry: TallyEntry, signed: Signed, seen: int, accept: str | None = None
) -> Recorded:
    """Put a plot's picking day right: what is given takes the place of all that is held of it.

    ``seen`` is the newest entry of the history that whoever corrects has looked at. Stems that
    were measured stay unless others are given. Only plots of open trials are corrected here.

    Raises
    ------
    ChangedMeanwhile
        Somebody else changed the same day after ``seen``.
    RecordsRefused, HistoryRefused
        Something typed cannot be right, or other records rest on what would go.
    TrialState
        The plot's trial is closed.
    """
    kept = Store.open(store)
    again = kept.bed.is_recorded(signed)
    trial = kept.bed.trial_of(entry.plot)
    known = kept.bed.known(trial, entry.plot)
    if trial in known.closed_trials:
        raise TrialState(
            f"Trial {trial} is closed.",
            Remedy("Its records can still be corrected", Verb.CORRECT, "FILE --why WORDS"),
        )
    batch = records.judge_rows(_rows_of(entry, trial), known, corrects=True, accept=accept)
    changed = kept.correct(_told(batch, entry), signed, seen)
    if changed is None and signed.who is not None:  # no entry, with which the draft would go
        kept.desk.discard(DraftPlace(signed.who, entry.plot, entry.day, Purpose.CORRECTION))
    return Recorded(entry.plot, entry.day, again=again)


PICKINGS = (Tally.COUNTED, Tally.NOTHING, Tally.NOT_PICKED)


def _judged(entry: TallyEntry, trial: str, known: Known, accept: str | None) -> Batch:
    return _told(records.judge_rows(_rows_of(entry, trial), known, accept=accept), entry)


def _told(batch: Batch, entry: TallyEntry) -> Batch:
    """The batch of no file: the entry of the history says who told it, and of which plot."""
    told_of = f"tally of {entry.plot} on {entry.day}"
    answered = tuple(replace(one, file=told_of, row=None) for one in batch.accepted)
    return replace(batch, accepted=answered)


def _rows_of(entry: TallyEntry, trial: str) -> dict[Sheet, Sequence[Mapping[str, str]]]:
    """The entry as rows of our own sheets, so that one judge judges both."""
    cuts, samples = _cuts(entry), _samples(entry)
    tables: dict[Sheet, Sequence[Mapping[str, str]]] = {}
    if cuts:
        tables[Sheet.CUTS] = cuts
    if samples:
        tables[Sheet.STEM_SAMPLES] = samples
    if entry.what in (Tally.LOST, Tally.NOTE):
        kind = EventKind.LOST if entry.what is Tally.LOST else EventKind.NOTE
        event = {"trial": trial, "plot": entry.plot, "happened_on": entry.day.isoformat()}
        tables[Sheet.EVENTS] = [{**event, "kind": kind.value, "reason": entry.words.strip()}]
    if not tables:  # else it would be called recorded, and no row would be
        raise RecordsRefused([_NOTHING_TYPED])
    require_seen(tables)
    return tables


def require_seen(tables: Mapping[Sheet, Sequence[Mapping[str, str]]]) -> None:
    """Refuse what cannot be seen in its field; in a file it would make the whole no text."""
    faults = [
        Fault(
            f"{sheet.value}.csv",
            number,
            column,
            f"{shown(text)} has an invisible character (code {code}).",
            "Type it again.",
        )
        for sheet, rows in tables.items()
        for number, row in enumerate(rows, 2)
        for column, text in row.items()
        if (code := unseen(text)) is not None
    ]
    if faults:
        raise RecordsRefused(faults)


def _cuts(entry: TallyEntry) -> list[dict[str, str]]:
    def row(outcome: Outcome, grade: str = "", stems: str = "", reason: str = "") -> dict[str, str]:
        return {
            "plot": entry.plot,
            "cut_on": entry.day.isoformat(),
            "outcome": outcome.value,
            "grade_cm": grade,
            "stems": stems,
            "cull_reason": reason,
        }

    if entry.what is Tally.NOT_PICKED:
        return [row(Outcome.MISSED)]
    if entry.what is Tally.NOTHING:
        return [row(Outcome.PICKED, stems="0")]
    return [
        *(row(Outcome.PICKED, str(grade), typed.strip()) for grade, typed in _filled(entry.stems)),
        *(row(Outcome.PICKED, "", typed.strip(), why) for why, typed in _filled(entry.culls)),
    ]


def _filled(fields: Sequence[tuple[Key, str]]) -> list[tuple[Key, str]]:
    return [(key, typed) for key, typed in fields if typed.strip()]


def _samples(entry: TallyEntry) -> list[dict[str, str]]:
    typed = [(text, Unit.CM) for text in entry.lengths] + [
        (text, Unit.IN) for text in entry.lengths_in
    ]
    return [
        {
            "plot": entry.plot,
            "cut_on": entry.day.isoformat(),
            "stem": str(number),
            "length_cm": _in_cm(text.strip(), unit),
        }
        for number, (text, unit) in enumerate(((t, u) for t, u in typed if t.strip()), 1)
    ]


def _in_cm(text: str, unit: Unit) -> str:
    """A length in cm; what is no length stays as it was typed, for the judge to refuse."""
    mark = DecimalMark.COMMA if "," in text else DecimalMark.POINT  # the comma of many a keypad
    return length(text, mark, unit, Unit.CM) or text


def _refuse_second(entry: TallyEntry, signed: Signed, held: PlotOnDay) -> None:
    if entry.what not in PICKINGS or held.outcome is None:
        return
    who = "You" if held.who == signed.who and held.who is not None else "Somebody else"
    by = f"{held.who}, " if held.who is not None and who != "You" else ""
    at = "" if held.recorded_at is None else f" at {on_the_clock(held.recorded_at)}"
    raise RecordedMeanwhile(
        f"{who} recorded this plot{at}: {by}{_in_short(held)}. So {entry.plot} is recorded for "
        f"{entry.day} already, and what you typed was not recorded. Compare the two, and correct "
        "what stands there if it is wrong.",
        held,
    )


def _in_short(held: PlotOnDay) -> str:
    if held.outcome is Outcome.MISSED:
        return "not picked"
    stems, culls = (sum(number for _, number in counted) for counted in (held.stems, held.culls))
    return f"{stems} stems graded, {culls} culled" if stems or culls else "nothing to cut (0)"


def on_the_clock(utc: datetime) -> str:
    """The time on this machine's clock, with the day unless it is today."""
    local = utc.replace(tzinfo=UTC).astimezone()
    return f"{local:%H:%M}" if local.date() == date.today() else f"{local:%Y-%m-%d %H:%M}"


def said_of_fields(
    refused: RecordsRefused, worded: Callable[[str | Remedy], str] = str
) -> tuple[str, ...]:
    """The faults without the names of files and rows, which nobody at a bed has seen.

    ``worded`` says a remedy as the reader can follow it.
    """
    return tuple(
        dict.fromkeys(
            f"{FIELDS.get(fault.column or '', '')}{fault.problem} {worded(by or fault.remedy)}"
            for fault in refused.faults
            for by in (fault.by,)
        )
    )


FIELDS = {
    "stems": "Stems: ",
    "cull_reason": "Reason: ",
    "length_cm": "Length: ",
    "cut_on": "Day: ",
    "reason": "Why: ",
    "product": "Product: ",
    "sprayed_at": "Time: ",
    "re_entry_hours": "Re-entry time: ",
    "seeds": "Seeds: ",
    "germinated": "Germinated: ",
}
