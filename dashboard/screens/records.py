"""Records: a form for everything that can also come in a file, and blank files to fill in."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.access.visitor import WRITERS, require
from dashboard.forms.forms import FARM, TRIAL
from dashboard.forms.grid import NEEDED, typed_grid
from dashboard.forms.saving import save, show_outcome
from dashboard.photo_form import show_any_form
from dashboard.settings import units
from dashboard.theme import markup
from trials.model.rows import Sheet
from trials.model.trial import TrialStage
from trials.report.record_forms import SHEET_WORDS, stored_table, template_csv

STORED_SHOWN = 30
PHOTOS = "Photos of varieties and plots"


def show_farm_form(name: str) -> None:
    """The grids of one of the farm's forms, and what is stored of its sheets."""
    sheets, note = FARM[name]
    st.html(markup.note(f"{note} Fill in the columns with {NEEDED} of each row you use."))
    show_outcome(name)
    typed = {}
    with st.form(f"form {name}", border=False):
        for sheet in sheets:
            st.html(markup.caption(SHEET_WORDS[sheet]))
            typed[sheet] = typed_grid(name, sheet, sheets)
        asked = st.form_submit_button("Check and store", type="primary")
    if asked:
        save(name, typed)
    for sheet in sheets:
        show_stored(sheet, None)


def show_trial_form(name: str) -> None:
    """One of a trial's forms, and what is stored of its sheet."""
    trials = [trial for trial in data.trials() if trial.stage is not TrialStage.CLOSED]
    if not trials:
        st.html(markup.note("No trial is open. Plan one first, on page Plan."))
        return
    of_code = {trial.code: trial for trial in trials}
    code = st.selectbox("Trial", list(of_code), key="of_trial", bind="query-params")
    sheet, show_form = TRIAL[name]
    show_form(of_code[code])
    show_stored(sheet, code)


def show_stored(sheet: Sheet, trial: str | None) -> None:
    """The newest rows that are stored, of one trial or of the farm."""
    rows = data.stored(sheet)
    if trial is not None and "trial" in rows.columns:
        rows = rows[rows["trial"] == trial]
    elif trial is not None:
        rows = rows[rows["plot"].isin(data.plot_codes(trial))]
    with st.expander(f"{SHEET_WORDS[sheet]}: {len(rows):,} stored"):
        st.html(
            markup.table(stored_table(sheet, rows, units(), STORED_SHOWN))
            if len(rows)
            else markup.note("Nothing is stored yet.")
        )
        if len(rows) > STORED_SHOWN:
            st.html(markup.note(f"The last {STORED_SHOWN} are shown."))
        st.html(markup.note("Something stored is wrong? Correct it on page History."))


def show_templates() -> None:
    """Blank files with our headings, for those who like a spreadsheet better."""
    with st.expander("Blank files for a spreadsheet"):
        sheet = st.selectbox(
            "File", list(SHEET_WORDS), format_func=SHEET_WORDS.__getitem__, key="template"
        )
        st.html(markup.note("Fill it in, then add it on page Home under Add records."))
        st.download_button(
            f"Download {sheet.value}.csv",
            template_csv(sheet),
            f"{sheet.value}.csv",
            "text/csv",
            on_click="ignore",
        )


require(WRITERS)
st.html(markup.heading("Record anything, without a file", eyebrow="Records"))
chosen = st.selectbox(
    "What do you want to record?", [*FARM, *TRIAL, PHOTOS], key="record", bind="query-params"
)
if chosen == PHOTOS:
    show_any_form()
elif chosen in FARM:
    show_farm_form(chosen)
else:
    show_trial_form(chosen)
show_templates()
