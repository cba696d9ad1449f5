"""On Home: what each trial needs next, with the page where it is done, and the search."""

from __future__ import annotations

from datetime import UTC, date, datetime

import streamlit as st

from dashboard import data
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials.model.trial import Trial, TrialStage
from trials.report.figures import listed
from trials.report.next_words import step_sentence
from trials.season import Found, FoundKind, NextStep, StepKind, next_steps

COUNTS, EVENTS = "Stand counts", "Events: frost, spray, loss, swap, note"  # as page Records says
# Where a step is done: the page, the form on it, and what its link says.
PLANTING_OF_A_PLAN = ("screens/plan.py", None, "Record the planting →")
PAGES = {
    StepKind.PLANT: ("screens/records.py", EVENTS, "Record the planting →"),
    StepKind.COUNT: ("screens/records.py", COUNTS, "Record stand counts →"),
    StepKind.HARVEST: ("screens/tally.py", None, "Tally →"),
    StepKind.FIRST_CUT: ("screens/tally.py", None, "Tally →"),
    StepKind.PINCH: ("screens/records.py", EVENTS, "Record what was done →"),
    StepKind.NET: ("screens/records.py", EVENTS, "Record what was done →"),
    StepKind.FROST: ("screens/records.py", EVENTS, "Record the frost →"),
}
LONGEST_SEARCH = 60


def steps_of(trial: Trial) -> tuple[NextStep, ...]:
    """What a trial needs now."""
    now = data.trials_now(date.today()).get(trial.code)
    return () if now is None else next_steps(now, datetime.now(UTC))


def show_steps(trial: Trial, *, may_write: bool) -> None:
    """What a trial needs, as a list; what is late or dangerous stands out.

    Whoever ``may_write`` is led to the page where it is done.
    """
    steps = steps_of(trial)
    pressing = [step for step in steps if step.overdue or step.kind is StepKind.STAY_OUT]
    if pressing:
        st.html(markup.alert("\n".join(map(step_sentence, pressing))))
    rest = [step for step in steps if step not in pressing]
    if rest:
        st.html(markup.lines(map(step_sentence, rest)))
    if not may_write or trial.stage is TrialStage.CLOSED:
        return
    links = dict.fromkeys(_link(step, trial) for step in steps if step.kind in PAGES)
    with st.container(horizontal=True):
        for page, form, label in links:
            asked = None if form is None else {"record": form, "of_trial": trial.code}
            st.page_link(page, label=label, query_params=asked)


def _link(step: NextStep, trial: Trial) -> tuple[str, str | None, str]:
    if step.kind is StepKind.PLANT and trial.code in data.planned():
        return PLANTING_OF_A_PLAN
    return PAGES[step.kind]


def show_search() -> None:
    """Search over trials, varieties and plots."""
    text = st.text_input(
        "Search trials, varieties and plots",
        max_chars=LONGEST_SEARCH,
        key="search",
        placeholder="part of a name",
    )
    if not text.strip():
        return
    found = data.find(text)
    if not found:
        st.html(markup.note("Nothing has a name like that."))
    for each in found:
        _show_found(each)


def _show_found(found: Found) -> None:
    match found.kind:
        case FoundKind.VARIETY:
            grown = f"in {listed(list(found.trials))}" if found.trials else "in no trial yet"
            st.page_link(
                "screens/varieties.py",
                label=f"Variety {for_markdown(found.name)}, {for_markdown(grown)}",
                query_params={"variety": found.name},
            )
        case FoundKind.TRIAL:
            st.page_link(
                "screens/compare.py",
                label=f"Trial {for_markdown(found.name)}",
                query_params={"trial": found.name},
            )
        case FoundKind.PLOT:
            st.page_link(
                "screens/history.py",
                label=f"Plot {for_markdown(found.name)} of {for_markdown(found.trials[0])}",
                query_params={"of": found.name},
            )
