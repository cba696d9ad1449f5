"""What rows are judged against: the names, trials and plots that the store and the files hold."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from trials.model.rows import Known, Sheet
from trials.model.trial import AppliedTo, EventKind
from trials.records.rules.factors import read_factors
from trials.records.rules.forms import FORMS
from trials.records.rules.validation import Judged, as_objects


@dataclass(frozen=True, slots=True)
class TrialFacts:
    """What the records of a trial are judged by; None where that is not known.

    ``new`` says that the trial came with the files and is not in the store.
    """

    code: str
    new: bool
    season: int | None
    site: str | None
    factors: tuple[tuple[str, AppliedTo], ...] | None
    check: str | None
    starts_on: date | None
    ends_on: date | None
    closed: bool


@dataclass(frozen=True, slots=True)
class PlotFacts:
    """What the records of a plot are judged by; None where that is not known.

    ``transplanted_on`` is also None of a plot that is not ``planted`` yet.
    """

    trial: TrialFacts | None
    plants_set: int | None
    transplanted_on: date | None
    planted: bool | None


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """Everything rows may refer to.

    Attributes
    ----------
    frames
        The rows of each sheet, those of the store first, then the new ones.
    held
        Those of the store alone, less what is to be replaced.
    unsure
        Sheets whose files could not be read to the end: a name that is not found among their
        rows may stand in them after all.
    """

    frames: Mapping[Sheet, pd.DataFrame]
    held: Mapping[Sheet, pd.DataFrame]
    trials: Mapping[str, TrialFacts]
    plots: Mapping[str, PlotFacts]
    unsure: Collection[Sheet]

    def names(self, sheet: Sheet) -> frozenset[str]:
        """The codes or names of the rows of a sheet."""
        return frozenset(self.frames[sheet][FORMS[sheet].key[0]].dropna())


def behold(
    held: Mapping[Sheet, pd.DataFrame],
    new: Mapping[Sheet, Judged],
    known: Known,
    unsure: Collection[Sheet],
) -> World:
    """Gather what the new rows are judged against."""
    frames = _Together(held, new)
    trials = _trials(frames, len(held[Sheet.TRIALS]), known.closed_trials)
    doubted = _doubted_plantings(new) if Sheet.EVENTS not in unsure else None
    plots = _plots(frames[Sheet.PLOTS], trials, _planted(frames[Sheet.EVENTS]), doubted)
    return World(frames, held, trials, plots, unsure)


class _Together(Mapping[Sheet, pd.DataFrame]):
    """Held and new rows of each sheet, put together when they are first asked for."""

    def __init__(self, held: Mapping[Sheet, pd.DataFrame], new: Mapping[Sheet, Judged]) -> None:
        self._held = held
        self._new = new
        self._frames: dict[Sheet, pd.DataFrame] = {}

    def __getitem__(self, sheet: Sheet) -> pd.DataFrame:
        if sheet not in self._frames:
            held, new = self._held[sheet], self._new.get(sheet)
            together = held if new is None else pd.concat([held, new.frame], ignore_index=True)
            self._frames[sheet] = together
        return self._frames[sheet]

    def __iter__(self) -> Iterator[Sheet]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)


def records(frame: pd.DataFrame, *names: str) -> Iterator[tuple[Any, ...]]:
    """The rows of some columns as tuples, None where a cell is empty."""
    return zip(*(as_objects(frame[name]) for name in names), strict=True)


def _trials(
    frames: Mapping[Sheet, pd.DataFrame], stored: int, closed: Collection[str]
) -> dict[str, TrialFacts]:
    runs = {
        (season, site): (starts_on, ends_on)
        for season, site, starts_on, ends_on in records(
            frames[Sheet.SEASONS], "season", "site", "starts_on", "ends_on"
        )
    }
    found: dict[str, TrialFacts] = {}
    trials = records(frames[Sheet.TRIALS], "trial", "season", "site", "factors", "check")
    for row, (code, season, site, factors, check) in enumerate(trials):
        if code is None:
            continue
        starts_on, ends_on = runs.get((season, site), (None, None))
        read = None if factors is None else read_factors(factors)
        found.setdefault(
            code,
            TrialFacts(
                code, row >= stored, season, site, read, check, starts_on, ends_on, code in closed
            ),
        )
    return found


def _doubted_plantings(new: Mapping[Sheet, Judged]) -> frozenset[str]:
    """The new plots whose day of planting out cannot be read."""
    if Sheet.PLOTS not in new:
        return frozenset()
    plots = new[Sheet.PLOTS]
    doubted = plots.columns["plot"].at(~plots.clear("transplanted_on"))
    return frozenset(doubted.values[doubted.codes[doubted.filled]])


def _planted(events: pd.DataFrame) -> dict[tuple[str, str | None], date]:
    """The days of planting that are recorded as events, by trial and plot (None = all of it)."""
    found: dict[tuple[str, str | None], date] = {}
    for kind, trial, plot, day in records(events, "kind", "trial", "plot", "happened_on"):
        if kind == EventKind.PLANTED and day is not None:
            found.setdefault((trial, plot), day)
    return found


def _plots(
    frame: pd.DataFrame,
    trials: Mapping[str, TrialFacts],
    planted: Mapping[tuple[str, str | None], date],
    doubted: Collection[str] | None,
) -> dict[str, PlotFacts]:
    """The plots; ``doubted`` are those whose planting is not known, None meaning any of them."""
    found: dict[str, PlotFacts] = {}
    for plot, trial, plants_set, transplanted_on in records(
        frame, "plot", "trial", "plants_set", "transplanted_on"
    ):
        if plot is None:
            continue
        day = transplanted_on or planted.get((trial, plot)) or planted.get((trial, None))
        known = day is not None or (doubted is not None and plot not in doubted)
        is_planted = day is not None if known else None
        found.setdefault(plot, PlotFacts(trials.get(trial), plants_set, day, is_planted))
    return found


def number_of(day: date | None) -> float | None:
    """A day as a number that can be compared."""
    return None if day is None else float(day.toordinal())
