"""The fields of one plot at the bed: typed text is kept as it is typed and judged when recorded."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial

import streamlit as st

from dashboard import data, markup
from dashboard.drafts import Draft
from dashboard.text import for_markdown
from trials import RecordsRefused, Tally, TallybedError, TallyEntry, said_of_fields
from trials.errors import RecordsHeld
from trials.model import PlotOfWalk, PlotOnDay

USUAL_REASONS = ("bent", "damaged", "too short", "too open", "insects", "disease")
STEP_CM = 10
GRADES_SHOWN = 6
REASONS_SHOWN = 6
LENGTHS_SHOWN = 5
LONGEST_REASON = 60
OTHER = "cull other"
OTHER_WORDS = "cull other words"
PAUSE = "400ms"

REFUSED = "tally_refused"
HELD = "tally_held"
TRUE = "why true"
NOTHING_TYPED = (
    "No stems are filled in. Write 0 in a field where there were none, or tap 'Nothing to cut' or "
    "'Not picked': the two are different."
)


def grades_of(told: PlotOnDay, shortest_cm: float) -> tuple[int, ...]:
    """The grades to offer: those the trial has used, and those about what can be sold."""
    first = max(int(shortest_cm // STEP_CM) - 1, 0) * STEP_CM
    usual = range(first, first + GRADES_SHOWN * STEP_CM, STEP_CM)
    return tuple(sorted({*told.grades_cm, *usual}))


def reasons_of(told: PlotOnDay) -> tuple[str, ...]:
    """The reasons for culling to offer: the trial's own, then the usual ones."""
    usual = [reason for reason in USUAL_REASONS if reason not in told.cull_reasons]
    return (*told.cull_reasons, *usual[: max(0, REASONS_SHOWN - len(told.cull_reasons))])


class Fields:
    """The fields of one draft: each shows what was typed before, and keeps what is typed."""

    def __init__(self, who: str, plot: str, day: date) -> None:
        self.draft = data.DRAFTS.at(who, plot, day)
        self._who, self._plot, self._day = who, plot, day

    def number(self, key: str, label: str) -> str:
        """A field for a number, with the keypad of figures; its text as typed."""
        return self._field(key, label, partial(st.text_input, type="phone", autocomplete="off"))

    def words(self, key: str, label: str) -> str:
        """A field for a few words."""
        return self._field(key, label, partial(st.text_input, max_chars=LONGEST_REASON))

    def _field(self, key: str, label: str, show: Callable[..., str | None]) -> str:
        widget = f"{key} {self.draft.token}"
        st.session_state.setdefault(widget, self.draft.typed.get(key, ""))
        typed = show(
            label,
            key=widget,
            live=PAUSE,
            icon=None,
            placeholder=" ",
            on_change=self._keep,
            args=(key, widget),
        )
        return typed or ""

    def _keep(self, key: str, widget: str) -> None:
        text = st.session_state.get(widget) or ""
        data.DRAFTS.type_in(self._who, self._plot, self._day, key, text)


def show_counts(fields: Fields, told: PlotOnDay, shortest_cm: float) -> TallyEntry:
    """Stems by grade, culls by reason, and lengths; as an entry that counts them."""
    st.html(markup.caption("Stems to sell", "By shortest length. Leave empty what is not there."))
    with st.container(horizontal=True, key="grades", gap="small"):
        stems = tuple(
            (grade, fields.number(f"grade {grade}", f"{grade} cm"))
            for grade in grades_of(told, shortest_cm)
        )
    st.html(markup.caption("Culls, and why"))
    with st.container(horizontal=True, key="culls", gap="small"):
        culls = [
            (reason, fields.number(f"cull {reason}", for_markdown(reason)))
            for reason in reasons_of(told)
        ]
    with st.expander("Another reason, and measured stems", expanded=_more_is_typed(fields.draft)):
        with st.container(horizontal=True, key="other", gap="small"):
            words = fields.words(OTHER_WORDS, "Another reason")
            culls.append((words.strip() or "other", fields.number(OTHER, "How many")))
        st.html(markup.caption("Measured stems (cm)", "Taken as they come, not the best ones."))
        with st.container(horizontal=True, key="lengths", gap="small"):
            lengths = tuple(
                fields.number(f"length {number}", f"Stem {number}")
                for number in range(1, lengths_shown(fields.draft) + 1)
            )
    return TallyEntry(
        told.plot, told.day, Tally.COUNTED, stems=stems, culls=tuple(culls), lengths=lengths
    )


def lengths_shown(draft: Draft) -> int:
    """Always some fields more than are filled."""
    filled = [
        int(key.removeprefix("length "))
        for key, text in draft.typed.items()
        if key.startswith("length ") and text.strip()
    ]
    return max([0, *filled]) // LENGTHS_SHOWN * LENGTHS_SHOWN + LENGTHS_SHOWN


def _more_is_typed(draft: Draft) -> bool:
    return any(
        text.strip() and key.startswith(("length ", OTHER)) for key, text in draft.typed.items()
    )


def record(entry: TallyEntry, token: str, accept: str = "") -> None:
    """Record an entry and show the plot as it is recorded, or say what is wrong with it."""
    store(partial(data.tally, entry, token, accept.strip() or None), token)


def store(write: Callable[[], object], token: str) -> None:
    """Write, and show the plot as it stands then; or keep what is wrong, to be said at the form."""
    try:
        write()
    except RecordsHeld as held:
        st.session_state[HELD] = token
        doubts = [*said_of_fields(held), "If it is true, say why and tap again."]
        st.session_state[REFUSED] = (token, "\n".join(doubts))
    except RecordsRefused as refused:
        st.session_state[REFUSED] = (token, "\n".join(said_of_fields(refused)))
    except TallybedError as refused:
        st.session_state[REFUSED] = (token, str(refused))
    else:
        st.session_state.pop(REFUSED, None)
    st.rerun(scope="app")


def is_held(token: str) -> bool:
    """Whether what was typed is unlikely, and waits for somebody to answer for it."""
    return bool(st.session_state.get(HELD) == token)


def show_refusal(token: str) -> None:
    """What was wrong with this draft when it was last to be recorded."""
    of, text = st.session_state.get(REFUSED, ("", ""))
    if of == token:
        st.html(markup.alert(text))


def show_form(here: PlotOfWalk, told: PlotOnDay) -> None:
    """What can be said of a plot: counted, nothing to cut, not picked, lost, or a note."""
    _show_form(here, told, data.DRAFTS.at(data.drafts_of(), told.plot, told.day).token)


def start_anew_if_done(draft: Draft, token: str) -> None:
    """A second tap finds its draft recorded already: then the whole page is to be shown anew."""
    if draft.token != token:
        st.rerun(scope="app")


@st.fragment
def _show_form(here: PlotOfWalk, told: PlotOnDay, token: str) -> None:
    fields = Fields(data.drafts_of(), told.plot, told.day)
    draft = fields.draft
    start_anew_if_done(draft, token)
    entry = show_counts(fields, told, here.shortest_length_cm)
    counted = [text for _, text in entry.stems if text.strip()]
    show_refusal(draft.token)
    accept = fields.words(TRUE, "Why it is true") if is_held(draft.token) else ""
    if st.button("Record", type="primary", key=f"record {draft.token}", width="stretch"):
        if counted:
            record(entry, draft.token, accept)
        st.html(markup.alert(NOTHING_TYPED))
    with st.container(horizontal=True, key="no_stems", gap="small"):
        nothing = st.button("Nothing to cut (0)", key=f"nothing {draft.token}", width="stretch")
        missed = st.button("Not picked", key=f"missed {draft.token}", width="stretch")
    if (nothing or missed) and not draft.is_empty:
        st.html(markup.alert("Something is typed above. Empty the fields first, or tap Record."))
    elif nothing:
        record(TallyEntry(told.plot, told.day, Tally.NOTHING), draft.token)
    elif missed:
        record(TallyEntry(told.plot, told.day, Tally.NOT_PICKED), draft.token)
    show_mishap(here, told, draft)


def show_mishap(here: PlotOfWalk, told: PlotOnDay, draft: Draft) -> None:
    """A note, or that the plot is lost: each with its words and a button of its own."""
    with st.expander("A note, or the plot is lost"):
        for kind, reason in told.events:
            st.html(markup.note(f"{kind.value}: {reason or ''}"))
        words = st.text_input(
            "What happened", max_chars=200, key=f"words {draft.token}", placeholder="voles, hail"
        )
        with st.container(horizontal=True, key="mishap", gap="small"):
            note = st.button("Keep as a note", key=f"note {draft.token}", width="stretch")
            lost = st.button("The plot is lost", key=f"lost {draft.token}", width="stretch")
        if (note or lost) and not (words or "").strip():
            st.html(markup.alert("Say what happened in a few words."))
        elif note or lost:
            what = Tally.NOTE if note else Tally.LOST
            record(TallyEntry(told.plot, told.day, what, words=words or ""), f"{draft.token} e")
