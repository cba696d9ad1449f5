"""What a trial needs next, as a sentence with its day."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trials.layout.next_steps import NextStep, StepKind
from trials.report.figures import count

# {on} is the day with what stands before it; the second text is that of a day that has passed.
_WORDS: Mapping[StepKind, tuple[str, str]] = {
    StepKind.SOW: ("Sow on {on}.", "Sow: {on} has passed."),
    StepKind.PLANT: (
        "Plant out on {on}, then record the planting.",
        "Record the planting: {on} has passed.",
    ),
    StepKind.PINCH: ("Pinch about {on}.", "Pinch: {on} has passed. Record it once done."),
    StepKind.NET: (
        "Put the net on about {on}.",
        "Put the net on: {on} has passed. Record it once done.",
    ),
    StepKind.FIRST_CUT: ("The first cut is expected about {on}.", "The first cut was due on {on}."),
    StepKind.HARVEST: ("Harvest about {on}.", "A harvest has been overdue since {on}."),
    StepKind.FROST: (
        "Frost is expected about {on}.",
        "Frost has been due since {on}: record it, then close the trial.",
    ),
}
_UNDATED: Mapping[StepKind, str] = {
    StepKind.PLANT: "Plant out, then record the planting.",
    StepKind.CLOSE: "Ready to close: no more stems will be cut.",
    StepKind.COMPARE: "Ready to compare.",
    StepKind.ORDER: "Then choose and order seed.",
}


def step_sentence(step: NextStep) -> str:
    """One thing that a trial needs, with its day."""
    special = _SPECIAL.get(step.kind)
    if special is not None:
        return special(step)
    if step.on is None:
        return _UNDATED[step.kind]
    return _WORDS[step.kind][step.overdue].format(on=f"{step.on:%Y-%m-%d}")


def _stay_out(step: NextStep) -> str:
    if step.spray is None:
        return "Do not enter the sprayed plots."
    plots = count(step.plots or 0, "plot")
    until = step.spray.until_words
    return f"Do not enter {plots} before {until}: sprayed with {step.spray.product}."


def _count(step: NextStep) -> str:
    plots = count(step.plots or 0, "plot")
    if step.on is None:
        return f"Count the living plants of {plots} when cutting starts."
    day = f"{step.on:%Y-%m-%d}"
    if step.overdue:
        since = f"since cutting started on {day}"
        return f"Count the living plants of {plots} now, unless plants have died {since}."
    return f"Count the living plants of {plots} by {day}."


_SPECIAL: Mapping[StepKind, Callable[[NextStep], str]] = {
    StepKind.STAY_OUT: _stay_out,
    StepKind.COUNT: _count,
}
