"""What is recorded of a plot on a day, as whoever recorded it sees it."""

from __future__ import annotations

import streamlit as st

from dashboard import markup
from trials import count, listed
from trials.model import Outcome, PlotOfWalk, PlotOnDay


def recorded_words(told: PlotOnDay) -> str:
    """What is recorded, in a sentence or two."""
    if told.outcome is Outcome.MISSED:
        return "Recorded: not picked. What grew is not known."
    if not any(stems for _, stems in (*told.stems, *told.culls)):
        return "Recorded: picked, nothing to cut (0)."
    parts = [f"{grade} cm: {stems}" for grade, stems in told.stems]
    parts += [f"culls, {reason}: {stems}" for reason, stems in told.culls]
    total = sum(stems for _, stems in told.stems)
    return f"Recorded: {count(total, 'stem')} to sell. {'; '.join(parts)}."


def show_recorded(here: PlotOfWalk, told: PlotOnDay) -> None:
    """The confirmation; it comes from the store, so that it is never said too early."""
    by = f" By {told.who}." if told.who else ""
    lengths = ""
    if told.lengths_cm:
        lengths = f" Measured: {listed([f'{length:g}' for length in told.lengths_cm], 20)} cm."
    st.html(markup.done(f"{recorded_words(told)}{lengths}{by}"))
