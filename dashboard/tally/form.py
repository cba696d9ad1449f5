"""The fields of one plot at the bed: typed text is kept as it is typed and judged when recorded."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from dashboard.access.visitor import said, visitor
from dashboard.redrawn import draw_again
from dashboard.settings import units
from dashboard.tally import bed
from dashboard.tally.drafts import Draft
from dashboard.tally.offered import grades_of, reasons_of
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials import TallybedError
from trials.errors import RecordsHeld, RecordsRefused
from trials.model.plot_day import PlotOnDay, RecordedMeanwhile
from trials.model.saleable import shortest_grade
from trials.model.units import UnitSystem
from trials.report.length_grades import length_words
from trials.report.remedies import remedy_words
from trials.season import DraftPlace, Tally, TallyEntry, said_of_fields

LENGTHS_SHOWN = 5
LONGEST_REASON = 60
OTHER = "cull other"
OTHER_WORDS = "cull other words"
PAUSE = "400ms"

# Each field of a length has its unit in its name, so that what was typed stays what it was.
LENGTH_UNITS = {"cm": UnitSystem.METRIC, "in": UnitSystem.US}

TAKEN_UP = "taken up"
REFUSED = "tally_refused"
HELD = "tally_held"
TRUE = "why true"
NOTHING_TYPED = (
    "No stems are filled in. Write 0 where there were none, or tap 'Nothing to cut' or 'Not "
    "picked'. These two differ."
)


class Fields:
    """The fields of one draft: each shows what was typed last, on whichever device."""

    def __init__(self, place: DraftPlace) -> None:
        self.place = place
        self.draft = bed.drafts().at(place)

    def number(self, key: str, label: str) -> str:
        """A field for a number, with the keypad of figures; its text as typed."""
        return self._field(key, label, partial(st.text_input, type="phone", autocomplete="off"))

    def words(self, key: str, label: str, *, most: int = LONGEST_REASON, such_as: str = " ") -> str:
        """A field for a few words."""
        return self._field(key, label, partial(st.text_input, max_chars=most), such_as)

    def _field(
        self, key: str, label: str, show: Callable[..., str | None], such_as: str = " "
    ) -> str:
        widget = f"{key} {self.draft.token}"
        typed = self.draft.typed.get(key, "")
        # What was typed here is in the draft by now; what differs was typed later elsewhere.
        if st.session_state.get(widget) != typed:
            st.session_state[widget] = typed
        shown = show(
            label,
            key=widget,
            live=PAUSE,
            icon=None,
            placeholder=such_as,
            on_change=self._keep,
            args=(key, widget),
        )
        return shown or ""

    def _keep(self, key: str, widget: str) -> None:
        text = st.session_state.get(widget) or ""
        bed.drafts().type_in(self.place, key, text)
        take_up(self.draft.token)


def show_counts(fields: Fields, told: PlotOnDay, shortest_cm: float) -> TallyEntry:
    """Stems by grade, culls by reason, and lengths; as an entry that counts them."""
    short, saleable = grades_of(told, shortest_cm, units())
    st.html(markup.caption("Stems to sell", "By length grade. Leave empty what there was none of."))
    stems = _show_grades(fields, saleable, "grades")
    if short:
        shortest = length_words(shortest_grade(shortest_cm), units())
        st.html(markup.caption("Stems too short to sell", f"Under {shortest}, by shortest length."))
        stems += _show_grades(fields, short, "grades_short")
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
        st.html(markup.caption("Measured stems", "Take stems as they come, not the best ones."))
        with st.container(horizontal=True, key="lengths", gap="small"):
            lengths = {unit: show_lengths(fields, unit) for unit in LENGTH_UNITS}
    return TallyEntry(
        told.plot,
        told.day,
        Tally.COUNTED,
        stems=stems,
        culls=tuple(culls),
        lengths=lengths["cm"],
        lengths_in=lengths["in"],
    )


def _show_grades(fields: Fields, grades: tuple[int, ...], key: str) -> tuple[tuple[int, str], ...]:
    with st.container(horizontal=True, key=key, gap="small"):
        return tuple(
            (grade, fields.number(f"grade {grade}", length_words(grade, units())))
            for grade in grades
        )


def show_lengths(fields: Fields, unit: str) -> tuple[str, ...]:
    """The stems measured in a unit: always in the farm's, in the other one where it was typed."""
    own = units() is LENGTH_UNITS[unit]
    filled = lengths_filled(fields.draft, unit)
    shown = filled // LENGTHS_SHOWN * LENGTHS_SHOWN + LENGTHS_SHOWN if own else filled
    return tuple(
        fields.number(f"length {unit} {number}", f"Stem {number} ({unit})")
        for number in range(1, shown + 1)
    )


def lengths_filled(draft: Draft, unit: str) -> int:
    """The place of the last field of a unit that holds something."""
    begins = f"length {unit} "
    filled = [
        int(key.removeprefix(begins))
        for key, text in draft.typed.items()
        if key.startswith(begins) and text.strip()
    ]
    return max([0, *filled])


def _more_is_typed(draft: Draft) -> bool:
    return any(
        text.strip() and key.startswith(("length ", OTHER)) for key, text in draft.typed.items()
    )


def take_up(token: str) -> None:
    """From now on the fields of this draft are shown without asking."""
    st.session_state[f"{TAKEN_UP} {token}"] = True


def is_taken_up(token: str) -> bool:
    """Whether somebody went on with this draft on this page."""
    return bool(st.session_state.get(f"{TAKEN_UP} {token}"))


def record(entry: TallyEntry, token: str, accept: str = "") -> None:
    """Record an entry and show the plot as it is recorded, or say what is wrong with it."""
    store(partial(bed.tally, entry, token, accept.strip() or None), token)


def store(write: Callable[[], object], token: str) -> None:
    """Write, and show the plot as it stands then; or keep what is wrong, to be said at the form."""
    worded = partial(remedy_words, role=visitor().role)
    try:
        write()
    except RecordsHeld as held:
        st.session_state[HELD] = token
        doubts = [*said_of_fields(held, worded), "If it is true, give a reason and tap again."]
        st.session_state[REFUSED] = (token, "\n".join(doubts))
    except RecordsRefused as refused:
        st.session_state[REFUSED] = (token, "\n".join(said_of_fields(refused, worded)))
    except RecordedMeanwhile:
        st.session_state.pop(
            REFUSED, None
        )  # the page shows what stands there beside what was typed
    except TallybedError as refused:
        st.session_state[REFUSED] = (token, said(refused))
    else:
        st.session_state.pop(REFUSED, None)
    draw_again()


def is_held(token: str) -> bool:
    """Whether what was typed is unlikely, and waits for somebody to answer for it."""
    return bool(st.session_state.get(HELD) == token)


def show_refusal(token: str) -> None:
    """What was wrong with this draft when it was last to be recorded."""
    of, text = st.session_state.get(REFUSED, ("", ""))
    if of == token:
        st.html(markup.alert(text))


def start_anew_if_done(draft: Draft, token: str) -> None:
    """A second tap finds its draft recorded already: then the whole page is to be shown anew."""
    if draft.token != token:
        draw_again()
