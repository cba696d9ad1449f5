"""What the tally pages say of sprays: which plots are closed, and until when."""

from __future__ import annotations

from datetime import date

from trials.model.re_entry import Spray

SPRAYED_LATELY_DAYS = 14
CLOSED = (
    "Do not enter: {plots}. Sprayed with {product}, closed until {until}. These plots are off the "
    "list until then."
)
DO_NOT_ENTER = (
    "Do not enter this plot. It was sprayed with {product} and is closed until {until}. If it was "
    "cut anyway, record the cut: it is stored and flagged. The label, local rules and your adviser "
    "come first."
)
CUT_EARLY = (
    "Flagged: cut while closed after a spray with {product}, which keeps people out until {until}."
)
SPRAYED = (
    "Sprayed on {on}. Go in and cut only once the waiting times on the label are over; local rules "
    "and whoever is licensed to spray have the last word."
)


def closed_words(spray: Spray) -> str:
    """That nobody enters the plot, and until when."""
    return DO_NOT_ENTER.format(product=spray.product, until=spray.until_words)


def sprayed_lately_words(sprayed_on: date | None, day: date) -> str:
    """That a plot was sprayed not long before a day; '' where it was not."""
    if sprayed_on is None or (day - sprayed_on).days > SPRAYED_LATELY_DAYS:
        return ""
    return SPRAYED.format(on=sprayed_on)
