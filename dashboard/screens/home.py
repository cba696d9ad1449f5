"""The season: its trials, what each needs next, closing one, and bringing records in."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import streamlit as st

from dashboard import data, trial_data
from dashboard.access.visitor import WRITERS, visitor
from dashboard.begin import show_doors, wants_spreadsheet
from dashboard.next_steps import show_search, show_steps
from dashboard.reading_form import agreement
from dashboard.redrawn import draw_again
from dashboard.spray_form import show_spray_form
from dashboard.tally import bed
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from dashboard.uploads import KINDS_OF_FILE, write_files
from trials.errors import RecordsHeld
from trials.model.trial import Trial, TrialStage
from trials.records.mapping.guess import ReadingNeeded
from trials.report.figures import count
from trials.report.pages import STAGE_NEEDS, added_sentence, added_table
from trials.report.tested_words import factor_words
from trials.season import KeptDraft, on_the_clock

TYPED_STILL = "Typed on page Tally and not recorded yet. After closing, it cannot be recorded:"
MOST_AHEAD = 4  # trials whose answers are calculated before anybody asks
STAGE_CHIPS = {
    TrialStage.LAID_OUT: "quiet",
    TrialStage.PLANTED: "quiet",
    TrialStage.PICKING: "open",
    TrialStage.CLOSED: "",
}


def show_trials(trials: tuple[Trial, ...]) -> None:
    """The trials of one season as cards."""
    seasons = sorted({trial.season for trial in trials}, reverse=True)
    season = st.segmented_control(
        "Season",
        seasons,
        default=seasons[0],
        required=True,
        key="season",
        bind="query-params",
        label_visibility="collapsed",
    )
    of_season = [trial for trial in trials if trial.season == season]
    compared = [t for t in of_season if t.stage in (TrialStage.PICKING, TrialStage.CLOSED)]
    trial_data.calculate_ahead([(t, t.primary_measure) for t in compared[:MOST_AHEAD]])
    for first in range(0, len(of_season), 2):
        for place, trial in zip(st.columns(2), of_season[first : first + 2], strict=False):
            with place, st.container(border=True, key=f"card_{trials.index(trial)}"):
                show_trial(trial)


def show_trial(trial: Trial) -> None:
    """One trial: its question, its state, and the way to what comes next."""
    check = f"check: {trial.check}" if trial.check else "no check"
    ended = ""
    if trial.closed_on is not None:
        ended = f"Closed on {trial.closed_on:%Y-%m-%d}: {data.closing_reason(trial.code)}."
    st.html(
        markup.card(
            eyebrow=f"{trial.code} · {trial.crop} · {trial.site}",
            title=trial.question,
            stage=markup.chip(trial.stage.value, STAGE_CHIPS[trial.stage]),
            needs=STAGE_NEEDS[trial.stage].removeprefix(f"{trial.stage.value}: "),
            facts=[
                count(trial.plots, "plot"),
                ", ".join(f"{factor_words(f.name)} on {f.applied_to}s" for f in trial.factors),
                check,
            ],
            ended=ended,
        )
    )
    if st.session_state.get("closed_now") == trial.code:
        copy = st.session_state.get("copy_kept", [])
        st.html(markup.done(" ".join(["Closed. Its records are fixed now.", *copy])))
        del st.session_state["closed_now"]
    show_steps(trial, may_write=may_write)
    with st.expander("What is recorded and what is missing"):
        st.html(markup.lines(data.completeness_lines(trial.code)))
    if trial.stage is TrialStage.CLOSED:
        st.page_link(
            "screens/compare.py",
            label="See its results →",
            query_params={"trial": trial.code},
        )
        return
    if may_write:
        with st.expander("Record a spray"):
            show_spray_form(trial)
        with st.expander("Close this trial"):
            show_closing(trial)
    if trial.stage is TrialStage.PICKING:
        st.page_link(
            "screens/compare.py",
            label="Results so far →",
            query_params={"trial": trial.code},
        )


def typed_by(draft: KeptDraft) -> str:
    """Whose draft it is, and of what."""
    place = draft.place
    return f"{place.plot} on {place.day}, typed by {place.person} at {on_the_clock(draft.typed_at)}"


def show_closing(trial: Trial) -> None:
    """The closing form; nothing is filled in beforehand and nothing is done until all is."""
    st.html(
        markup.note("After closing its records are fixed. Check first what is missing:")
        + markup.lines(data.completeness_lines(trial.code))
    )
    typed = bed.left_unrecorded(trial.code)
    if typed:
        st.html(markup.alert(TYPED_STILL) + markup.lines(map(typed_by, typed)))
    with st.form(f"close {trial.code}", border=False):
        on = st.date_input("The season ended on", value=None, format="YYYY-MM-DD")
        reason = st.text_input("What ended it", placeholder="for example: first frost")
        seen = st.checkbox("I have seen what is missing, and there are no more records to add.")
        asked = st.form_submit_button(f"Close {for_markdown(trial.code)}", type="primary")
    if not asked:
        return
    missing = [
        words
        for words, there in (
            ("the day it ended", on is not None),
            ("what ended it", bool(reason.strip())),
            ("the tick in the box above", seen),
        )
        if not there
    ]
    if on is None or missing:
        st.html(markup.alert(f"Nothing was closed yet. Still needed: {', '.join(missing)}."))
        return
    st.session_state["copy_kept"] = data.close(trial.code, on, reason)
    st.session_state["closed_now"] = trial.code
    draw_again()


def show_bringing_in() -> None:
    """Files of records: all that is wrong with them, or what they added."""
    st.html(
        markup.section(
            "Add records",
            "CSV, XLSX or Parquet files, several at once. With columns of your own, you see "
            "how they are read before anything is stored. Either every new row is added or "
            "none.",
        )
    )
    with st.form("bring in", border=False):
        files = st.file_uploader("Files of records", type=KINDS_OF_FILE, accept_multiple_files=True)
        asked = st.form_submit_button("Check and add files", type="primary")
    if asked and not files:
        st.html(markup.alert("No file is chosen yet."))
        return
    batch = tuple(file.file_id for file in files)
    if asked or st.session_state.get("being_agreed") == batch:
        bring_in(batch, partial(write_files, files), asked=asked)
    last_batch, added = st.session_state.get("brought_in", ((), None))
    if added is not None and last_batch == batch:
        st.html(markup.done(added_sentence(added)) + markup.table(added_table(added)))


def bring_in(
    batch: tuple[str, ...], write_files: Callable[[Path], list[Path]], *, asked: bool
) -> None:
    """Bring the files in; where something is to be agreed first, ask it and come back."""
    st.session_state["being_agreed"] = batch
    key = "agreeing " + " ".join(batch)
    if asked:
        for mine in [name for name in st.session_state if str(name).startswith(key)]:
            del st.session_state[mine]
    agreed = agreement(key)
    if agreed is None:
        return
    try:
        added = data.load(batch, write_files, agreed)
    except ReadingNeeded as needed:
        st.session_state[f"{key} guesses"] = needed.guesses
        draw_again()
    except RecordsHeld as held:
        st.session_state[f"{key} held"] = held
        draw_again()
    del st.session_state["being_agreed"]
    st.session_state["brought_in"] = (batch, added)
    draw_again()


may_write = visitor().role in WRITERS
trials = data.trials()
if trials:
    st.html(markup.heading("What each trial needs next", eyebrow="The season"))
    show_search()
    show_trials(trials)
else:
    st.html(markup.heading("No trials yet. How do you want to begin?", eyebrow="The season"))
    show_doors(may_write=may_write)
if may_write and (trials or wants_spreadsheet()):
    show_bringing_in()
