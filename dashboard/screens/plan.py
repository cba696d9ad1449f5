"""Planning: what fits the beds and what it could tell, laying a trial out, its dates and paper."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard import data
from dashboard.plan_form import FIELDS, asked_plan
from dashboard.redrawn import draw_again, folded, redrawn_alone
from dashboard.settings import LONGEST_FARM, paper, units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from dashboard.uploads import file_name
from dashboard.waiting import result_of
from trials.errors import RecordsRefused
from trials.model.trial import Trial, TrialStage
from trials.model.units import PaperSize
from trials.report.calendar_page import calendar_cautions, calendar_notes, calendar_table
from trials.report.form_words import form_sentences
from trials.report.plan_page import proposal_words, proposals_table, table_notes
from trials.report.plan_words import note_words, possible_sentences
from trials.season import Printing, Proposed

MIME = {".pdf": "application/pdf", ".xlsx": "application/vnd.openxmlformats-officedocument."
        "spreadsheetml.sheet"}  # fmt: skip

LABELS: dict[str, tuple[float, float] | None] = {
    "on sheets of paper, to cut apart": None,
    "label printer, 100 x 50 mm": (100.0, 50.0),
    "label printer, 89 x 36 mm": (89.0, 36.0),
    "label printer, 62 x 100 mm": (62.0, 100.0),
    "label printer, 57 x 19 mm": (57.0, 19.0),
}


def show_planned(trials: tuple[Trial, ...]) -> None:
    """The dates and the paper of a trial that was laid out here."""
    of_code = {trial.code: trial for trial in trials}
    codes = [code for code in data.planned() if code in of_code]
    if not codes:
        return
    st.html(markup.section("Planned trials"))
    code = st.selectbox("Trial", codes, key="planned", bind="query-params")
    st.html(markup.note(f"{of_code[code].question} ({of_code[code].stage})"))
    if of_code[code].stage is TrialStage.LAID_OUT:
        show_planting(code)
    dates = data.calendar(code)
    if dates.tasks:
        st.html(
            markup.caption(
                "Its calendar",
                "Later days move with the days you record.",
            )
            + markup.table(calendar_table(dates.tasks, units()))
            + markup.lines(calendar_notes(dates, units(), on_page=True))
            + markup.note(" ".join(calendar_cautions(dates.tasks)))
        )
    st.html(markup.lines(note_words(note, on_page=True) for note in dates.notes))
    show_sheets(code)


def show_planting(code: str) -> None:
    """The day it was planted out, which fixes its layout."""
    with st.form(f"planting {code}"):
        on = st.date_input(
            "The day it was planted out", value=None, format="YYYY-MM-DD", key=f"planted {code}"
        )
        st.html(
            markup.note(
                "From then on its layout is fixed. Record swapped plants or labels as events."
            )
        )
        asked = st.form_submit_button("Record the planting")
    if asked and on is None:
        st.html(markup.alert("Nothing was recorded yet. Still needed: the day."))
    elif asked and on is not None:
        data.plant(code, on)
        draw_again()


@redrawn_alone
def show_sheets(code: str) -> None:
    """Its paper, drawn when it is asked for."""
    with folded("Print its map, stakes, picking sheets and workbook", "sheets_form") as is_open:
        if is_open:
            ask_sheets(code)


def ask_sheets(code: str) -> None:
    """How the paper is to be, and its files."""
    farm = st.text_input(
        "Name of the farm, for every sheet",
        max_chars=LONGEST_FARM,
        key="farm",
        persist_state="session",
    )
    left, right = st.columns(2)
    with left:
        sizes = list(PaperSize)
        size = st.selectbox("Paper", sizes, index=sizes.index(paper()), key="paper")
        blind = st.checkbox("Print no varieties on stakes and picking sheets", key="blind")
    with right:
        stakes = st.number_input("Stakes per plot", 1, 10, 2, key="stakes")
        labels = st.selectbox("Stake labels", list(LABELS), key="labels")
    how = Printing(
        farm, date.today(), blind, size, LABELS[labels], int(stakes), data.scanned_from(), units()
    )
    if st.button("Make the files"):
        st.session_state["sheets"] = (code, how)
    if st.session_state.get("sheets") != (code, how):
        return
    made = result_of(data.sheets.begun(code, how), "Making the files", forget_sheets)
    if made is None:
        return
    with st.container(horizontal=True):
        for name, content in made:
            st.download_button(
                for_markdown(name),
                content,
                name,
                MIME[name[name.rindex(".") :]],
                on_click="ignore",
            )


def forget_sheets() -> None:
    """Ask for no files any more."""
    st.session_state.pop("sheets", None)


def show_new(trials: tuple[Trial, ...]) -> None:
    """A new plan, filled in or brought along, and what fits."""
    st.html(
        markup.section(
            "Plan a trial",
            "Fill in what you know. You first see which layouts fit, what they take and how "
            "precise they are. Nothing is stored until you choose one.",
        )
    )
    with st.popover("Use a plan file instead"):
        file = st.file_uploader("Plan file", type=["toml"], key="plan_file")
        if st.button("Show layouts that fit") and file is not None:
            st.session_state["plan_text"] = data.plan_text(file.name, file.getvalue())
            st.session_state["plan_filled_in"] = False
    text = asked_plan(trials)
    if text is not None:
        st.session_state["plan_text"] = text
        st.session_state["plan_filled_in"] = True
    if "plan_text" in st.session_state:
        show_proposed(st.session_state["plan_text"])


def show_proposed(text: str) -> None:
    """The layouts that fit, and the one to take."""
    try:
        asked = result_of(data.propose.begun(text), "Looking for layouts that fit", forget_plan)
    except RecordsRefused as refused:
        if not st.session_state["plan_filled_in"]:
            raise
        sentences = form_sentences(refused, FIELDS)
        st.html(markup.alert("\n".join([*sentences, "Nothing was stored."])))
        return
    if asked is None:
        return
    plan = asked.written.plan
    st.html(markup.section(f"What fits: {plan.question}"))
    if asked.refused is not None:
        st.html(markup.alert(f"The plan as written does not fit. {asked.refused}"))
    if asked.possible is not None:
        st.html(
            markup.caption("Sample size")
            + markup.lines(possible_sentences(asked.possible, units()))
        )
    st.html(markup.caption("Layouts that fit") + markup.table(proposals_table(asked, units())))
    with st.expander("What these columns mean"):
        st.html(markup.lines(table_notes(asked, on_page=True)))
    if asked.notes:
        st.html(markup.lines(note_words(note, on_page=True) for note in asked.notes))
    if asked.dates.tasks:
        with st.expander("Its calendar"):
            st.html(
                markup.table(calendar_table(asked.dates.tasks, units()))
                + markup.lines(calendar_notes(asked.dates, units(), on_page=True))
                + markup.note(" ".join(calendar_cautions(asked.dates.tasks)))
            )
    show_taking(text, asked)


def forget_plan() -> None:
    """Ask for no layouts any more; what was filled in stays in the form."""
    st.session_state.pop("plan_text", None)


def show_taking(text: str, asked: Proposed) -> None:
    """Lay one of them out by lot and keep it, or take the plan's file along."""
    numbers = list(range(1, len(asked.offers) + 1))
    number = st.selectbox(
        "Layout to use",
        numbers,
        index=(asked.as_written or 1) - 1,
        format_func=lambda number: proposal_words(number, asked.offers[number - 1]),
        key="take",
    )
    with st.container(horizontal=True):
        if st.button("Randomise and store", type="primary"):
            st.session_state["planned_now"] = data.lay_out(text, number)
            del st.session_state["plan_text"]
            draw_again()
        st.download_button(
            "Save plan file",
            text,
            file_name(f"{asked.written.plan.code}.toml".replace("/", "-"), "plan.toml"),
            "application/toml",
            on_click="ignore",
        )


trials = data.trials()
st.html(markup.heading("From a question to the bed", eyebrow="The plan"))
if "planned_now" in st.session_state:
    code = st.session_state["planned"] = st.session_state.pop("planned_now")
    st.html(markup.done(f"{code} is laid out and stored. Print its sheets below before you plant."))
show_planned(trials)
show_new(trials)
