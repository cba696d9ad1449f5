"""Tally: at the bed, with wet hands: a plot, what was cut from it, and the next plot."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from urllib.parse import urlencode

import streamlit as st

from dashboard.access.gate import PHONE_PAGE
from dashboard.redrawn import draw_again
from dashboard.tally import bed
from dashboard.tally.drafts import Draft
from dashboard.tally.plot import show_form
from dashboard.tally.record import show_recorded
from dashboard.tally.spray_words import CLOSED, CUT_EARLY, closed_words, sprayed_lately_words
from dashboard.tally.typed import TYPED, offer, show_elsewhere, typed_lines
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials.errors import UnknownName
from trials.model.plot_day import PlotOfWalk, PlotOnDay
from trials.model.trial import Outcome
from trials.model.work_safety import AT_THE_PLOTS, cautions
from trials.report.figures import count, listed
from trials.season import DraftPlace, on_the_clock

BLIND = "TALLYBED_BLIND"


def choose_day() -> date:
    """The picking day: today, unless another is chosen or was asked for."""
    asked = st.query_params.get("day", "")
    if "tally_day" not in st.session_state:
        st.session_state["tally_day"] = _as_day(asked) or date.today()
    chosen = st.date_input("Picking day", key="tally_day", format="YYYY-MM-DD")
    if not isinstance(chosen, date):
        st.stop()
    return chosen


def _as_day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def plot_asked(walk: tuple[PlotOfWalk, ...]) -> PlotOfWalk | None:
    """The plot whose stake was scanned, or that was chosen last."""
    code = st.query_params.get("plot", "").strip()
    if not code:
        return None
    for plot in walk:
        if plot.plot.casefold() == code.casefold():
            return plot
    refusal = UnknownName("plot to tally on this day", code, [plot.plot for plot in walk])
    st.html(markup.alert(str(refusal)))
    return None


def go_to(plot: str) -> None:
    """Show another plot from now on."""
    st.query_params["plot"] = plot


def words_of(plot: PlotOfWalk, begun: frozenset[str]) -> str:
    """A plot in the list: its sign, its code, and what was cut."""
    if plot.is_left and (spray := bed.closed_by(plot)) is not None:
        return f"⊘ {plot.plot} closed until {spray.until_words}"
    if plot.lost_reason is not None:
        return f"✕ {plot.plot} lost"
    if plot.outcome is Outcome.PICKED:
        return f"✓ {plot.plot} {plot.stems}"
    if plot.outcome is Outcome.MISSED:
        return f"– {plot.plot} not picked"
    return f"… {plot.plot}" if plot.plot in begun else plot.plot


def show_progress(walk: tuple[PlotOfWalk, ...]) -> None:
    """How far the walk is."""
    done = sum(not plot.is_left for plot in walk)
    st.html(markup.progress(done, len(walk), f"{done} of {count(len(walk), 'plot')} done"))
    closed = [(plot.plot, spray) for plot in walk if (spray := bed.closed_by(plot)) is not None]
    if closed:
        last = max((spray for _, spray in closed), key=lambda spray: spray.until)
        st.html(
            markup.alert(
                CLOSED.format(
                    plots=listed([code for code, _ in closed], MOST_CLOSED_LISTED),
                    product=listed(list(dict.fromkeys(spray.product for _, spray in closed)), 3),
                    until=last.until_words,
                )
            )
        )


def choose_plot(walk: tuple[PlotOfWalk, ...], here: PlotOfWalk | None) -> None:
    """Every plot in walking order, to go to."""
    day = st.session_state["tally_day"]
    begun = frozenset(place.plot for place in bed.begun() if place.day == day)
    codes = [plot.plot for plot in walk]
    chosen = st.selectbox(
        "Go to a plot",
        codes,
        index=codes.index(here.plot) if here else None,
        placeholder="choose, or scan its stake",
        format_func=lambda code: words_of(walk[codes.index(code)], begun),
        key=f"go to {here.plot if here else ''}",
    )
    if chosen is not None and (here is None or chosen != here.plot):
        go_to(chosen)
        draw_again()


def next_left(walk: tuple[PlotOfWalk, ...], here: PlotOfWalk | None) -> PlotOfWalk | None:
    """The next plot along the walk that nobody has tallied; from its end on from its start."""
    place = walk.index(here) + 1 if here else 0
    return next(
        (
            plot
            for plot in (*walk[place:], *walk[:place])
            if plot.is_left and bed.closed_by(plot) is None
        ),
        None,
    )


def show_next(walk: tuple[PlotOfWalk, ...], here: PlotOfWalk | None) -> None:
    """The way on."""
    following = next_left(walk, here)
    if following is None and any(plot.is_left for plot in walk):
        st.html(markup.note(OTHERS_CLOSED))
    elif following is None:
        st.html(markup.done("Every plot is done for this day."))
    elif following != here and st.button(
        f"Next: {for_markdown(following.plot)}, {for_markdown(following.bed)}",
        type="primary",
        key="next plot",
        width="stretch",
    ):
        go_to(following.plot)
        draw_again()


def show(here: PlotOfWalk, walk: tuple[PlotOfWalk, ...], day: date) -> None:
    """The plot at which somebody stands, and the way on."""
    treatment = "" if os.environ.get(BLIND) == "1" else here.treatment or ""
    st.html(markup.plot_head(here.plot, f"{here.bed}, place {here.position}", treatment))
    told = bed.plot_on_day(here.trial, here.plot, day)
    closed = bed.closed_by(here)
    if closed is not None:
        st.html(markup.alert(closed_words(closed)))
    for spray in here.sprays:
        if told.outcome is Outcome.PICKED and spray.was_broken_by(day, tallied_at(told)):
            flag = CUT_EARLY.format(product=spray.product, until=spray.until_words)
            st.html(markup.alert(flag))
            break
    lately = sprayed_lately_words(told.sprayed_on, day)
    if closed is None and lately:
        st.html(markup.alert(lately))
    if here.lost_reason is not None and told.outcome is None:
        st.html(markup.done(f"Lost: {here.lost_reason}. Nothing more is tallied here."))
        show_left_over(bed.draft_place(here.plot, day))
    elif told.outcome is not None:
        show_recorded(here, told)
    else:
        show_form(told, here.minimum_length_cm)
        return
    show_next(walk, here)


def show_left_over(place: DraftPlace) -> None:
    """What was typed for a plot that was lost before it was recorded."""
    draft: Draft = bed.drafts().at(place)
    if draft.has_counts and draft.typed_at is not None:
        typed = TYPED.format(at=on_the_clock(draft.typed_at))
        st.html(markup.note(typed) + markup.lines(typed_lines(draft.typed)))
        offer(place, draft.token, None)


def go_to_draft(place: DraftPlace) -> None:
    """Show the plot and day of something typed earlier."""
    st.session_state["tally_day"] = place.day
    go_to(place.plot)


def tallied_at(told: PlotOnDay) -> datetime | None:
    """When the plot's picking day was tallied there, with its time zone."""
    return None if told.tallied_at is None else told.tallied_at.replace(tzinfo=UTC)


MOST_CLOSED_LISTED = 12
OTHERS_CLOSED = "Every open plot is done for this day. The others are closed after a spray."

NO_PLOTS = (
    "No open trial has plots in the ground on {on:%Y-%m-%d}. Choose the picking day, or ask the "
    "grower whether the trial is closed."
)


def phone_address(here: PlotOfWalk | None, day: date) -> str:
    """Where the page for the phone shows the same plot and day."""
    asked = {} if here is None else {"plot": here.plot}
    if day != date.today():
        asked["day"] = day.isoformat()
    return f"{PHONE_PAGE}?{urlencode(asked)}" if asked else PHONE_PAGE


def show_page() -> None:
    """The plot first; the choice of another plot or day below it, unless none is chosen."""
    top, below = st.container(), st.container()
    scanned = bool(st.query_params.get("plot"))
    with below, st.expander("Another plot, another day", expanded=not scanned):
        day = choose_day()
        choosing = st.container()
    walk = bed.walk(day)
    typed = bed.my_drafts()
    with top:
        if not scanned:
            st.html(markup.heading("Tally", eyebrow="At the bed"))
        if not walk:
            st.html(markup.note(NO_PLOTS.format(on=day)))
            show_elsewhere(typed, None, go_to_draft)
            return
        here = plot_asked(walk)
        st.html(markup.way_to_phone(phone_address(here, day)))
        show_progress(walk)
        with choosing:
            choose_plot(walk, here)
        if here is None:
            show_next(walk, None)
        else:
            show(here, walk, day)
        at = None if here is None else bed.draft_place(here.plot, day)
        show_elsewhere(typed, at, go_to_draft)


with st.container(key="bed"):
    show_page()
    st.html(markup.note(" ".join(cautions(*AT_THE_PLOTS))))
