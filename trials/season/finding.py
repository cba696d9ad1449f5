"""Finds trials, varieties and plots by a part of their name."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from trials.model.rows import Sheet
from trials.model.trial import Trial
from trials.store import Store
from trials.store.stored_sheets import stored_rows

MOST_FOUND = 20


class FoundKind(StrEnum):
    """What was found."""

    TRIAL = "trial"
    VARIETY = "variety"
    PLOT = "plot"


@dataclass(frozen=True, slots=True)
class Found:
    """A trial, variety or plot, and the trials it is in, the newest first."""

    kind: FoundKind
    name: str
    trials: tuple[str, ...]


def find(store: Path, text: str, most: int = MOST_FOUND) -> tuple[Found, ...]:
    """The trials, varieties and plots whose name contains a text, whatever its capitals.

    A trial is also found by its question, crop and site. Exact names come first.
    """
    part = " ".join(text.split()).casefold()
    if not part:
        return ()
    kept = Store.open(store)
    trials = sorted(kept.trials(), key=lambda trial: (-trial.season, trial.code))
    plots = stored_rows(kept, Sheet.PLOTS)
    found = [
        *(
            Found(FoundKind.TRIAL, trial.code, (trial.code,))
            for trial in trials
            if any(part in word.casefold() for word in _words(trial))
        ),
        *(
            Found(FoundKind.VARIETY, name, _growing(trials, name))
            for name in stored_rows(kept, Sheet.VARIETIES)["variety"]
            if part in name.casefold()
        ),
        *(
            Found(FoundKind.PLOT, plot, (trial,))
            for trial, plot in zip(plots["trial"], plots["plot"], strict=True)
            if part in plot.casefold()
        ),
    ]
    return tuple(sorted(found, key=lambda each: each.name.casefold() != part)[:most])


def _words(trial: Trial) -> tuple[str, ...]:
    return trial.code, trial.question, trial.crop, trial.site


def _growing(trials: list[Trial], variety: str) -> tuple[str, ...]:
    return tuple(
        trial.code
        for trial in trials
        if any(each.name == "variety" and variety in each.levels for each in trial.factors)
    )
