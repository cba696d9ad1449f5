"""What was typed and not recorded: shown beside what is recorded, to go on or to drop."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import streamlit as st

from dashboard.access.visitor import said, visitor
from dashboard.settings import units
from dashboard.tally import bed
from dashboard.tally.drafts import HAPPENED, Draft
from dashboard.tally.form import (
    OTHER,
    OTHER_WORDS,
    REFUSED,
    TRUE,
    is_taken_up,
    show_refusal,
    take_up,
)
from dashboard.theme import markup
from trials import TallybedError
from trials.errors import Remedy, Verb
from trials.model.plot_day import PlotOnDay
from trials.model.trial import Outcome
from trials.model.units import UnitSystem
from trials.report.grid import Column, Table
from trials.report.length_grades import length_words, measured_words
from trials.report.remedies import remedy_words
from trials.season import DraftPlace, KeptDraft, Purpose, on_the_clock

SEEN = "seen"
WHY = "why"
NOTHING_THERE = "–"
MOST_LISTED = 10

TYPED = "Typed at {at}, not recorded yet."
OLDER = (
    "Since then this plot was recorded for another day, at {at}. Look whether what you typed still "
    "holds for {day}."
)
STAYS_OUT = (
    "Trial {trial} is closed since {on}: what you typed was not recorded, and the page takes no "
    "more. {remedy}"
)
REOPEN = Remedy("It can be recorded once the closing is taken back", Verb.UNDO)
NO_PLOT = "There is no plot of that code any more. Show it to the grower before you throw it away."


def show_typed_before(place: DraftPlace, draft: Draft, told: PlotOnDay) -> bool:
    """Say what was typed on an earlier visit; whether the fields may be shown.

    What is older than the plot's newest record is shown and has to be taken up first.
    """
    if draft.is_empty or is_taken_up(draft.token) or draft.typed_at is None:
        return True
    st.html(markup.alert(TYPED.format(at=on_the_clock(draft.typed_at))))
    older = told.plot_recorded_at is not None and draft.typed_at < told.plot_recorded_at
    if older and told.plot_recorded_at is not None:
        at = on_the_clock(told.plot_recorded_at)
        st.html(
            markup.alert(OLDER.format(at=at, day=told.day)) + markup.lines(typed_lines(draft.typed))
        )
    offer(place, draft.token, "Use it", partial(take_up, draft.token))
    return not older


def show_both(
    place: DraftPlace, draft: Draft, told: PlotOnDay, instead: Callable[[], None]
) -> None:
    """What stands in the store beside what was typed for the same plot and day."""
    if not draft.has_counts or draft.typed_at is None:
        return
    at = on_the_clock(draft.typed_at)
    own = told.who == place.person
    by = "" if told.recorded_at is None else f" at {on_the_clock(told.recorded_at)}"
    whose = "You recorded" if own else "Somebody else recorded"
    name = f" ({told.who})" if told.who is not None and not own else ""
    st.html(
        markup.alert(
            f"{whose} this plot{by}{name}. What you typed at {at} is not recorded: compare the two."
        )
        + markup.table(both_table(draft.typed, told))
    )
    offer(place, draft.token, "Replace it with mine", instead)


def offer(
    place: DraftPlace, token: str, go_on: str | None, going_on: Callable[[], None] | None = None
) -> None:
    """Go on with what was typed, or throw it away; thrown away only when asked twice."""
    show_refusal(token)
    asked = f"throwing away {token}"
    with st.container(horizontal=True, key=f"typed {token}", gap="small"):
        if st.session_state.get(asked):
            _tap("Yes, throw it away", f"throw {token}", partial(_throw_away, place, token))
            _tap("No, keep it", f"keep {token}", partial(_ask, asked, False))
            return
        if go_on is not None and going_on is not None:
            _tap(go_on, f"take {token}", going_on)
        _tap("Discard", f"discard {token}", partial(_ask, asked, True))


def _tap(label: str, key: str, then: Callable[[], None]) -> None:
    st.button(label, key=key, on_click=then, width="stretch")


def _ask(key: str, asked: bool) -> None:
    st.session_state[key] = asked


def _throw_away(place: DraftPlace, token: str) -> None:
    try:
        bed.discard_draft(place)
    except TallybedError as refusal:  # there is no page around a tap that could say it
        st.session_state[REFUSED] = (token, said(refusal))


def both_table(typed: Mapping[str, str], told: PlotOnDay) -> Table:
    """One row a field that holds something in either: what is recorded, and what was typed."""
    recorded = recorded_fields(told)
    aside = (SEEN, WHY, TRUE, OTHER_WORDS)
    keys = sorted({*recorded, *typed}.difference(aside), key=_place_on_the_form)
    said = {key: typed.get(key, "").strip() for key in keys}
    rows = tuple(
        (
            field_words(key, typed),
            "not picked" if told.outcome is Outcome.MISSED else recorded.get(key, NOTHING_THERE),
            said[key] or NOTHING_THERE,
        )
        for key in keys
        if said[key] or key in recorded
    )
    by = f" by {told.who}" if told.who is not None else ""
    return Table((Column("field"), Column(f"recorded{by}", True), Column("typed", True)), rows)


def recorded_fields(told: PlotOnDay) -> dict[str, str]:
    """What is recorded, by the fields in which it would have been typed."""
    unit = "in" if units() is UnitSystem.US else "cm"
    return {
        **{f"grade {grade}": str(stems) for grade, stems in told.stems},
        **{f"cull {reason}": str(stems) for reason, stems in told.culls},
        **{
            f"length {unit} {number}": measured_words(length, units())
            for number, length in enumerate(told.lengths_cm, 1)
        },
    }


def field_words(key: str, typed: Mapping[str, str]) -> str:
    """What a field is for, with its unit."""
    kind, _, of = key.partition(" ")
    if key == OTHER:
        return f"culls, {typed.get(OTHER_WORDS, '').strip() or 'other'}"
    if kind == "grade":
        return f"stems of {length_words(int(of), units())}"
    if kind == "cull":
        return f"culls, {of}"
    if kind == "length":
        unit, _, number = of.partition(" ")
        return f"stem {number} ({unit})"
    return {HAPPENED: "what happened", WHY: "what was wrong", TRUE: "why it is true"}.get(key, key)


def typed_lines(typed: Mapping[str, str]) -> list[str]:
    """What was typed, a line a field."""
    return [
        f"{field_words(key, typed)}: {text.strip()}"
        for key, text in sorted(typed.items(), key=lambda field: _place_on_the_form(field[0]))
        if text.strip() and key not in (SEEN, OTHER_WORDS)
    ]


def _place_on_the_form(key: str) -> tuple[int, int, str]:
    kind, _, of = key.partition(" ")
    number = of.rpartition(" ")[2]
    place = ("grade", "cull", "length").index(kind) if kind in ("grade", "cull", "length") else 3
    return place, int(number) if number.isdecimal() else 0, key


def show_elsewhere(
    kept: tuple[KeptDraft, ...], here: DraftPlace | None, go_to: Callable[[DraftPlace], None]
) -> None:
    """What the visitor typed for other plots and days, also where nothing can be recorded."""
    other = [each for each in kept if here is None or not _same(each.place, here)]
    if not other:
        return
    with st.expander(f"Typed and not recorded ({len(other)})", expanded=here is None):
        for each in other[:MOST_LISTED]:
            _show_one(each, go_to)
        if len(other) > MOST_LISTED:
            st.html(markup.note(f"… and {len(other) - MOST_LISTED} more, newer ones."))


def _same(one: DraftPlace, other: DraftPlace) -> bool:
    return (one.plot, one.day) == (other.plot, other.day)


def _show_one(each: KeptDraft, go_to: Callable[[DraftPlace], None]) -> None:
    place = each.place
    what = "a correction, " if place.purpose is Purpose.CORRECTION else ""
    st.html(
        markup.caption(
            f"{place.plot} on {place.day}", f"{what}typed at {on_the_clock(each.typed_at)}"
        )
    )
    if each.trial is not None and each.closed_on is None:
        offer(place, each.token, f"Go to {place.plot}", partial(go_to, place))
        return
    words = NO_PLOT
    if each.trial is not None:
        remedy = remedy_words(REOPEN, visitor().role)
        words = STAYS_OUT.format(trial=each.trial, on=each.closed_on, remedy=remedy)
    st.html(markup.alert(words) + markup.lines(typed_lines(each.fields)))
    offer(place, each.token, None)
