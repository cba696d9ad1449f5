"""History: who changed what, when and why; taking an entry back, and sheets that put right."""

from __future__ import annotations

import secrets
from functools import partial

import streamlit as st

from dashboard import correcting, data
from dashboard.access.visitor import WRITERS, said, visitor
from dashboard.redrawn import draw_again
from dashboard.settings import units
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from dashboard.uploads import KINDS_OF_FILE, write_files
from trials import TallybedError
from trials.errors import RecordsRefused
from trials.model.trial import Entry
from trials.report.comparison_tables import means_table
from trials.report.figures import count, figures_of
from trials.report.history_page import (
    as_known_words,
    changed_sentence,
    changes_left_out,
    changes_table,
    entry_about,
    entry_head,
    entry_lines,
    undo_words,
)
from trials.report.pages import faults_table
from trials.report.words import plain_words

SHOWN_AT_ONCE = 20
LONGEST_REASON = 200
SHOWN = "history_shown"
SAID = "history_said"
SEEN = "history_seen"
TAKING_BACK = "history_taking_back"
EVERYTHING = "everything"
EVERY_PLOT = "every plot"


def choose_what() -> tuple[str | None, str | None]:
    """The trial to look at and one of its plots; None: all of them."""
    codes = [trial.code for trial in data.trials()]
    left, right = st.columns(2)
    with left:
        trial = st.selectbox("Trial", [EVERYTHING, *codes], key="of", bind="query-params")
    if trial not in codes:
        return None, None
    plots = data.plot_codes(trial)
    with right:
        plot = st.selectbox("Plot", [EVERY_PLOT, *plots], key=f"history plot of {trial}")
    return trial, plot if plot in plots else None


def say(text: str, refused: TallybedError | None = None) -> None:
    """Keep what came of a tap, to be said at the head of the page until something newer is."""
    st.session_state[SAID] = (newest_entry(), text, refused)


def show_said(newest: int) -> None:
    """What came of the last tap."""
    at, text, refused = st.session_state.get(SAID, (None, "", None))
    if at != newest:
        return
    if isinstance(refused, RecordsRefused):
        faults = count(len(refused.faults), "fault")
        st.html(
            markup.alert(f"{faults} found. Nothing was changed. Correct the file and try again.")
            + markup.table(faults_table(refused, visitor().role))
        )
    else:
        st.html(markup.done(text) if refused is None else markup.alert(said(refused)))


def newest_entry() -> int:
    """The number of the newest entry of all; 0 before the first."""
    return max((entry.number for entry in data.history(None, 1)), default=0)


def show_entries(trial: str | None, plot: str | None) -> None:
    """The newest entries, and a way to the older ones."""
    of = plot or trial
    if trial is None:
        st.html(markup.note("Choose a trial to see its results from earlier records."))
    shown = st.session_state.setdefault(SHOWN, SHOWN_AT_ONCE)
    entries = data.history(of, shown + 1)
    if not entries:
        st.html(markup.note(f"Nothing has been recorded for {of} yet."))
    for entry in entries[:shown]:
        show_entry(entry, trial)
    if len(entries) > shown and st.button("Show older changes", width="stretch"):
        st.session_state[SHOWN] = shown + SHOWN_AT_ONCE
        draw_again()


def show_entry(entry: Entry, trial: str | None) -> None:
    """One entry, to be opened: its reason, its rows before and since, and what can be done."""
    flag = "flagged: cut while closed after a spray" if entry.early_cuts else ""
    told = [*entry_head(entry), entry_about(entry), flag, entry.why or ""]
    head = for_markdown(" · ".join(words for words in told if words))
    with st.expander(head, key=f"entry {entry.number}"):
        for line in entry_lines(entry):
            st.html(markup.note(line))
        if entry.changes:
            st.html(markup.table(changes_table(entry)) + markup.note(changes_left_out(entry)))
        number, token = st.session_state.get(TAKING_BACK, (None, ""))
        if may_write and number == entry.number:
            show_taking_back(entry, token)
        elif (
            may_write
            and entry.undone_by is None
            and st.button("Undo this …", key=f"take back {entry.number}")
        ):
            st.session_state[TAKING_BACK] = (entry.number, secrets.token_hex(16))
            draw_again()
        if trial is not None and st.toggle(
            f"Results of {for_markdown(trial)} from the records as of this change",
            key=f"then {trial} {entry.number}",
        ):
            show_then(trial, entry.number)


def show_taking_back(entry: Entry, token: str) -> None:
    """The second step: why, and the tap that does it; a second tap of it finds it done."""
    with st.form(f"taking back {token}", border=False):
        st.html(markup.note(undo_words(entry)))
        why = st.text_input("Why do you undo it?", max_chars=LONGEST_REASON)
        with st.container(horizontal=True):
            sure = st.form_submit_button(f"Yes, undo change {entry.number}", type="primary")
            left = st.form_submit_button("Cancel")
    if left:
        del st.session_state[TAKING_BACK]
        draw_again()
    if not sure:
        return
    if not why.strip():
        st.html(markup.alert("Nothing was undone yet. Give a reason for the history."))
        return
    try:
        undone = correcting.take_back(entry.number, why, token)
    except TallybedError as refused:
        st.html(markup.alert(said(refused)))
        return
    del st.session_state[TAKING_BACK]
    say(changed_sentence(undone))
    draw_again()


def show_then(trial: str, entry: int) -> None:
    """What the trial's main measure said by the records of then, and whether it still does."""
    try:
        then = data.compare_as_known(trial, entry)
    except TallybedError as refused:
        st.html(markup.alert(said(refused)))
        return
    figures = figures_of(then, units())
    factor = max(then.layout.factors, key=lambda factor: len(factor.levels)).name
    words = plain_words(then, units())
    st.html(
        markup.caption(
            f"{trial}{as_known_words(entry)}: {then.measure}",
            f"Overall mean: {figures.amount(then.grand_mean)}.",
        )
        + markup.words(
            [
                markup.word("What differed", words.differs),
                markup.word("Too close to call", words.not_told, "unsure"),
            ]
        )
        + markup.table(means_table(then, factor, figures))
    )
    st.page_link(
        "screens/compare.py", label="Compare today's records →", query_params={"trial": trial}
    )


def show_mending(newest: int) -> None:
    """Sheets of the same form that put right what is stored, with their reason."""
    st.html(
        markup.note(
            "Use a file with the same columns as the one you added. For a harvest, give "
            "every row for that plot and day. The history keeps the earlier rows."
        )
    )
    seen = st.session_state.get(SEEN, newest)
    # A tap says by its name up to which entry the page had shown the history. Once the page has
    # shown a newer one there is no such button any more, so a second tap does nothing.
    if not st.session_state.get(f"mend {seen}"):
        seen = newest
    st.session_state[SEEN] = seen
    with st.form("mend", border=False):
        chosen = st.radio("What the file contains", [how.value for how in correcting.Mending])
        files = st.file_uploader("The file", type=KINDS_OF_FILE, accept_multiple_files=True)
        why = st.text_input(
            "Why", max_chars=LONGEST_REASON, placeholder="for example: 3 was 13 on the paper"
        )
        accept = st.text_input(
            "If a record looks unlikely: why is it true?", max_chars=LONGEST_REASON
        )
        asked = st.form_submit_button("Correct", type="primary", key=f"mend {seen}")
    if not asked:
        return
    if not files or not why.strip():
        missing = "the file" if not files else "a reason for the history"
        st.html(markup.alert(f"Nothing was changed yet. Still needed: {missing}."))
        return
    how = correcting.Mending(chosen or correcting.Mending.CORRECT)
    token = " ".join([how.name, str(seen), *(file.file_id for file in files)])
    try:
        done = correcting.mend(
            how, partial(write_files, files), why, token, seen, accept.strip() or None
        )
        say(changed_sentence(done))
    except TallybedError as refused:
        say("", refused)
    draw_again()


may_write = visitor().role in WRITERS
newest = newest_entry()
if newest:
    st.html(markup.heading("Who changed what, when and why", eyebrow="The history"))
    show_said(newest)
    if may_write:
        with st.expander("Correct stored records from a file", key="mending"):
            show_mending(newest)
    show_entries(*choose_what())
else:
    st.html(markup.heading("Nothing was recorded yet", eyebrow="The history"))
    st.page_link("screens/home.py", label="Add records →")
