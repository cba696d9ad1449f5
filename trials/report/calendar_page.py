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
from trials.layout.crops import CropFigure, CropFigures
from trials.model.crop_facts import Fact, FactSource
from trials.model.units import UnitSystem, cm_to_inches
from trials.model.work_safety import cautions
from trials.records.plan.proposed import Dates
from trials.report.grid import Column, Table, wrapped
from trials.report.plan_words import note_words

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
    GuideKind.LEAF_PAIRS: "when plants have {}",
    GuideKind.NET_HEIGHT_CM: "about {} above the soil",
}


_SOURCE_WORDS: Mapping[FactSource, str] = {
    FactSource.PLAN: "For {}, from this plan",
    FactSource.OWN_RECORDS: "For {}, from your own records",
    FactSource.SEED_PACKET: "For {}, from the seed packet",
    FactSource.COMMON_PRACTICE: "Usual for {}, check your seed packet",
    FactSource.ASSUMED: "Assumed for {}, check your seed packet",
}
_FACT_WORDS: Mapping[Fact, str] = {
    Fact.DAYS_TO_BLOOM: "{} days from sowing to the first cut",
    Fact.DAYS_IN_TRAYS: "{} days in trays",
    Fact.GERMINATION_C: "{} to germinate",
    Fact.DAYS_TO_PINCH: "{} days from planting out to pinching",
    Fact.PINCH_HEIGHT_CM: "pinched at {}",
    Fact.PINCH_LEAF_PAIRS: "pinched at {}",
    Fact.DAYS_PINCHING_DELAYS: "{} days later where pinched",
    Fact.DAYS_TO_NET: "{} days from planting out to netting",
    Fact.NET_HEIGHT_CM: "net at {}",
    Fact.DAYS_BETWEEN_FLUSHES: "{} days between cuts",
    Fact.FLUSHES: "{} cuts",
    Fact.DAYS_BETWEEN_SOWINGS: "{} days between sowings",
}
_GUIDE_OF: Mapping[Fact, GuideKind] = {
    Fact.GERMINATION_C: GuideKind.WARMTH_C,
    Fact.PINCH_HEIGHT_CM: GuideKind.PLANT_HEIGHT_CM,
    Fact.PINCH_LEAF_PAIRS: GuideKind.LEAF_PAIRS,
    Fact.NET_HEIGHT_CM: GuideKind.NET_HEIGHT_CM,
}


def guide_words(guide: Guide, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The height or warmth that decides, in the reader's units."""
    return _GUIDE_WORDS[guide.kind].format(_amount(guide, units))


def _amount(guide: Guide, units: UnitSystem) -> str:
    us = units is UnitSystem.US
    if guide.kind is GuideKind.LEAF_PAIRS:
        unit, figures = "pairs of leaves", [guide.low, guide.high]
    elif guide.kind is GuideKind.WARMTH_C:
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
    return words if task.part is None else f"{words} ({task.part})"


def crop_words(
    crop: str, figures: CropFigures, units: UnitSystem = UnitSystem.METRIC
) -> tuple[str, ...]:
    """The figures of the crop that the calendar is made from, one sentence for each source."""
    said = []
    for source, head in _SOURCE_WORDS.items():
        of_source = [
            _FACT_WORDS[fact].format(_figure_amount(fact, figure, units))
            for fact, figure in figures.items()
            if figure.source is source and fact is not Fact.DIRECT_SOWN
        ]
        if of_source:
            said.append(f"{head.format(crop)}: {', '.join(of_source)}.")
    return tuple(said)


def _figure_amount(fact: Fact, figure: CropFigure, units: UnitSystem) -> str:
    kind = _GUIDE_OF.get(fact)
    if kind is not None:
        return _amount(Guide(kind, figure.low, figure.high), units)
    low, high = f"{figure.low:g}", f"{figure.high:g}"
    return low if low == high else f"{low} to {high}"


def calendar_table(tasks: Sequence[Task], units: UnitSystem = UnitSystem.METRIC) -> Table:
    """One row a date: when, what, and how sure."""
    several = any((task.succession or 1) > 1 for task in tasks)
    columns = (Column("day"), Column("work"), Column("status"), Column("take care"))
    rows = []
    for task in tasks:
        what = task_words(task, units)
        if several and task.succession is not None:
            what = f"sowing {task.succession}: {what}"
        known = "done" if task.source is DateSource.HAPPENED else "expected"
        rows.append((task.on.isoformat(), what, known, "; ".join(_mind(task))))
    return Table(columns, tuple(rows))


def calendar_cautions(tasks: Sequence[Task]) -> tuple[str, ...]:
    """The cautions for the work in a calendar, in the order in which it comes."""
    work = dict.fromkeys(each for task in tasks for each in task.safety)
    return cautions(*work) if work else ()


def days_to_print(
    tasks: Sequence[Task], units: UnitSystem = UnitSystem.METRIC
) -> tuple[tuple[date, str], ...]:
    """The days of the first sowing for a printed page; metric heights have the inches too."""
    kinds = (TaskKind.PINCH, TaskKind.NET, TaskKind.FIRST_CUT, TaskKind.LAST_CUT)
    return tuple(
        (task.on, f"{task_words(task, units)}{'' if units is UnitSystem.US else _in_inches(task)}")
        for task in tasks
        if task.kind in kinds and task.succession in (None, 1)
    )


def _in_inches(task: Task) -> str:
    if task.guide is None or task.guide.kind in (GuideKind.WARMTH_C, GuideKind.LEAF_PAIRS):
        return ""
    return f" ({_amount(task.guide, UnitSystem.US)})"


def _mind(task: Task) -> list[str]:
    """Frost where it is as likely as not or more, and the care that the work needs."""
    said = []
    if task.risk is not None and task.risk is not FrostRisk.LESS_THAN_EVEN:
        said.append(str(task.risk))
    return [*said, *(str(each) for each in task.safety)]


def calendar_text(
    dates: Dates,
    units: UnitSystem = UnitSystem.METRIC,
    later: str = "Enter what was done under [happened] in the plan. Later days then move with it.",
) -> str:
    """The calendar with the frosts and figures it is made from; empty without tasks."""
    if not dates.tasks or dates.frost is None:
        return ""
    lines = "\n".join(wrapped(line) for line in (*calendar_notes(dates, units), later))
    care = wrapped(" ".join(calendar_cautions(dates.tasks)))
    return f"Calendar\n{calendar_table(dates.tasks, units).text()}\n{lines}\n\n{care}"


def calendar_notes(
    dates: Dates, units: UnitSystem = UnitSystem.METRIC, *, on_page: bool = False
) -> tuple[str, ...]:
    """The figures and frosts that a calendar is made from, in sentences."""
    frost = () if dates.frost is None else (frost_words(dates.frost, on_page=on_page),)
    return (*crop_words(dates.crop, dates.figures, units), *frost)


def frost_words(frost: Frost, *, on_page: bool = False) -> str:
    """The average frosts, and the safety margin from them; a page has no field for that."""
    average = (
        f"Average last frost {frost.last_spring}, average first frost {frost.first_autumn}: half "
        "of all years are earlier, half later."
    )
    if frost.margin_days:
        return f"{average} The calendar stays {frost.margin_days} days clear of both."
    if on_page:
        return average
    return f"{average} For a safety margin, give frost_margin_days in [calendar]."


def trial_calendar_page(trial: str, dates: Dates, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The calendar of a planned trial, as far as it is known."""
    title = f"{trial}: calendar"
    later = (
        "Later days move with what was done: planting out, pinching, netting, the first cut and "
        "the closing."
    )
    parts = [f"{title}\n{'═' * len(title)}", calendar_text(dates, units, later)]
    notes = [wrapped(note_words(note)) for note in dates.notes]
    return "\n\n".join([*(part for part in parts if part), *notes]) + "\n"
