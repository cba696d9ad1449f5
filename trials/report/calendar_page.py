"""A calendar in words: what to do when, at which height, and what frost may have to say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from trials.layout.calendar import (
    DateSource,
    Frost,
    FrostRisk,
    Guide,
    GuideKind,
    Task,
    TaskKind,
)
from trials.report.grid import Column, Table, wrapped
from trials.units import UnitSystem, cm_to_inches

TASK_WORDS: Mapping[TaskKind, str] = {
    TaskKind.SOW: "sow",
    TaskKind.TRANSPLANT: "plant out",
    TaskKind.PINCH: "pinch",
    TaskKind.NET: "put the net on",
    TaskKind.FIRST_CUT: "first cut",
    TaskKind.NEXT_FLUSH: "next flush",
    TaskKind.LAST_SOWING: "last useful sowing",
    TaskKind.LAST_CUT: "end of cutting",
}
_GUIDE_WORDS: Mapping[GuideKind, str] = {
    GuideKind.WARMTH_C: "at about {} to germinate",
    GuideKind.PLANT_HEIGHT_CM: "when plants are {} tall",
    GuideKind.NET_HEIGHT_CM: "about {} above the soil",
}


def guide_words(guide: Guide, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The height or warmth that decides, in the reader's units."""
    return _GUIDE_WORDS[guide.kind].format(_amount(guide, units))


def _amount(guide: Guide, units: UnitSystem) -> str:
    us = units is UnitSystem.US
    if guide.kind is GuideKind.WARMTH_C:
        unit = "°F" if us else "°C"
        figures = [limit * 9 / 5 + 32 if us else limit for limit in (guide.low, guide.high)]
    else:
        unit = "in" if us else "cm"
        figures = [cm_to_inches(limit) if us else limit for limit in (guide.low, guide.high)]
    low, high = (f"{figure:.0f}" for figure in figures)
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def task_words(task: Task, units: UnitSystem = UnitSystem.METRIC) -> str:
    """What is to be done or expected, without its day."""
    words = TASK_WORDS[task.kind]
    if task.kind is TaskKind.NEXT_FLUSH and task.flush is not None:
        words = f"cut number {task.flush}"
    if task.guide is not None:
        words += f", {guide_words(task.guide, units)}"
    return words


def calendar_table(tasks: Sequence[Task], units: UnitSystem = UnitSystem.METRIC) -> Table:
    """One row a date: when, what, and how sure."""
    several = any((task.succession or 1) > 1 for task in tasks)
    columns = (Column("day"), Column("what"), Column("known"), Column("mind"))
    rows = []
    for task in tasks:
        what = task_words(task, units)
        if several and task.succession is not None:
            what = f"sowing {task.succession}: {what}"
        known = "done" if task.source is DateSource.HAPPENED else "expected"
        rows.append((task.on.isoformat(), what, known, "; ".join(_mind(task))))
    return Table(columns, tuple(rows))


def days_to_print(tasks: Sequence[Task]) -> tuple[tuple[date, str], ...]:
    """The days of the first sowing for a printed page, with metric and US heights."""
    kinds = (TaskKind.PINCH, TaskKind.NET, TaskKind.FIRST_CUT, TaskKind.LAST_CUT)
    return tuple(
        (task.on, f"{task_words(task)}{_in_inches(task)}")
        for task in tasks
        if task.kind in kinds and task.succession in (None, 1)
    )


def _in_inches(task: Task) -> str:
    if task.guide is None or task.guide.kind is GuideKind.WARMTH_C:
        return ""
    return f" ({_amount(task.guide, UnitSystem.US)})"


def _mind(task: Task) -> list[str]:
    """Frost where it is as likely as not or more, and care where the work is new."""
    said = []
    if task.risk is not None and task.risk is not FrostRisk.LESS_THAN_EVEN:
        said.append(str(task.risk))
    if task.kind is not TaskKind.NEXT_FLUSH:
        said += [str(each) for each in task.safety]
    return said


def calendar_text(
    tasks: Sequence[Task],
    frost: Frost | None,
    units: UnitSystem = UnitSystem.METRIC,
    later: str = "Write what was done into [happened] of the plan, and later days follow.",
) -> str:
    """The calendar with the frosts it rests on; empty without tasks."""
    if not tasks or frost is None:
        return ""
    return (
        f"Calendar\n{calendar_table(tasks, units).text()}\n"
        f"  Average last frost {frost.last_spring}, first {frost.first_autumn}: as likely before "
        f"as after.\n  {later}"
    )


def trial_calendar_page(
    trial: str,
    tasks: Sequence[Task],
    frost: Frost | None,
    notes: Sequence[str],
    units: UnitSystem = UnitSystem.METRIC,
) -> str:
    """The calendar of a planned trial, as far as it is known."""
    title = f"{trial}: calendar"
    later = (
        "Days follow what the plan and the records say was done: planting out, events of pinching "
        "and\n  netting, the first cut, the closing."
    )
    parts = [f"{title}\n{'═' * len(title)}", calendar_text(tasks, frost, units, later)]
    return "\n\n".join([*(part for part in parts if part), *map(wrapped, notes)]) + "\n"
