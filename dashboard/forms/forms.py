"""Which forms page Records has: of the farm with their sheets, and of a trial."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from dashboard.forms.events import show_events
from dashboard.forms.plot_figures import show_scores, show_stand_counts, show_stem_samples
from trials.model.rows import Sheet
from trials.model.trial import Trial

# The farm's own forms: their sheets, and what to know before filling them in.
FARM: Mapping[str, tuple[tuple[Sheet, ...], str]] = {
    "Fields, seasons and frosts": (
        (Sheet.SITES, Sheet.SEASONS),
        "Each field or tunnel once, and its season for each year.",
    ),
    "Varieties": (
        (Sheet.VARIETIES,),
        "Enter them before you plan, with colour and habit: a plan stores new names only.",
    ),
    "Seed houses": (
        (Sheet.CURRENCIES, Sheet.SEED_HOUSES),
        "Enter the currencies first: your own has the worth 1.",
    ),
    "Price lists of seed": (
        (Sheet.SEED_ITEMS,),
        "One row for each packet size, and one more for each price break.",
    ),
    "Seed lots": ((Sheet.SEED_LOTS,), "The packets you have, with their germination."),
    "Seed in stock": (
        (Sheet.SEED_STOCK, Sheet.GERMINATION_TESTS),
        "Count what is left of each lot, and test old seed before you rely on it.",
    ),
    "Prices of stems, and costs": (
        (Sheet.PRICES, Sheet.COSTS),
        "With prices and costs, page Choose ranks the varieties by money.",
    ),
    "Your own figures for crops": (
        (Sheet.CROPS,),
        "They replace the usual figures in a plan's calendar. Orders count old seed by them.",
    ),
}
TRIAL: Mapping[str, tuple[Sheet, Callable[[Trial], None]]] = {
    "Stand counts": (Sheet.STAND_COUNTS, lambda trial: show_stand_counts(trial.code)),
    "Stem samples": (Sheet.STEM_SAMPLES, lambda trial: show_stem_samples(trial.code)),
    "Scores and vase life": (Sheet.SCORES, lambda trial: show_scores(trial.code)),
    "Events: frost, spray, loss, swap, note": (Sheet.EVENTS, show_events),
}
