"""What each entry may bring next season, from the adjusted means of the seasons so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from trials.decide.draws import Deviates, next_season
from trials.decide.prospects import EntryOutlook, Terms, prospects
from trials.decide.two_stage import SeasonMeans, StackedSeasons
from trials.errors import UnknownName
from trials.model import Better, Margin

Floats = NDArray[np.float64]

ASSUMED_SWING_SHARE = 0.5  # of the spread between entries: judgement of the trade, no source
SWING_PARTS = 50


class SwingSource(StrEnum):
    """Where the size of the season-to-season swing comes from."""

    ESTIMATED = "estimated from the seasons at hand"
    GIVEN = "given by the grower"
    ASSUMED = "assumed: too few seasons share enough entries"


@dataclass(frozen=True, slots=True)
class Swing:
    """How far an entry's season strays from its own average beside the others, as an SD.

    ``low`` and ``high`` are the 95 % likelihood interval and ``contrasts`` the independent
    contrasts behind it; None and 0 where the swing was not estimated. ``seasons`` counts the
    trials at hand.
    """

    sd: float
    source: SwingSource
    seasons: int
    low: float | None = None
    high: float | None = None
    contrasts: int = 0

    def __post_init__(self) -> None:
        if not self.sd >= 0:
            raise ValueError(f"a standard deviation is not negative: {self.sd!r}")


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Next season's prospects of every entry, entries by name.

    ``season_sd`` is the spread of the seasons' general level, None (and left out of ``low`` and
    ``high``) where there is one season only.
    ``next_season`` (draws, k) and ``next_length`` (draws, k; NaN where no length was recorded)
    are the joint draws that every chance was counted from: with 20,000 of them a chance is known
    to within 0.007 (two Monte Carlo standard errors at worst).
    """

    entries: tuple[EntryOutlook, ...]
    terms: Terms
    seasons: tuple[tuple[int, str], ...]
    swing: Swing
    season_sd: float | None
    length_seasons: tuple[tuple[int, str], ...]
    length_swing: Swing | None
    length_season_sd: float | None
    draws: int
    seed: int
    next_season: Floats
    next_length: Floats | None


def outlook(
    deciding: Sequence[SeasonMeans],
    *,
    better: Better,
    check: str | None = None,
    lengths: Sequence[SeasonMeans] = (),
    shortest: float | None = None,
    tall_chance: float = 0.80,
    margin: Margin | None = None,
    swing: float | None = None,
    length_swing: float | None = None,
    coverage: float = 0.80,
    draws: int = 20_000,
    seed: int = 1,
) -> Outlook:
    """Next season's prospects from the adjusted means of one or more closed trials.

    Parameters
    ----------
    deciding
        The adjusted means of the deciding measure, one a trial.
    better
        Whether more or less of the measure is welcome.
    check
        The entry the others must beat.
    lengths, shortest
        The adjusted means of stem length, and the shortest saleable length in the same unit.
    tall_chance
        An entry with a smaller chance of reaching ``shortest`` is no candidate.
    margin
        A difference that does not matter.
    swing, length_swing
        The swing's standard deviation from the farm's own history, in place of an estimate.
    coverage
        The chance with which an entry's next season lies between ``low`` and ``high``.
    draws, seed
        How many draws at least, and the stored seed that repeats them.

    Returns
    -------
    Outlook

    Notes
    -----
    The swing's standard deviation is that of highest restricted likelihood; the draws take it
    from its 95 % likelihood interval in proportion to the likelihood, because two or three
    seasons say little about it and an estimate of 0 is no proof that there is none. Where fewer
    than two contrasts bear on it (two seasons that share three entries have two), half the
    standard deviation between the entries' means is assumed. Every trial counts as a season.

    Refuses a check that is no entry (`UnknownName`) and entries that no chain of shared
    entries connects (`ComparisonRefused`).
    """
    if (shortest is None) != (not lengths):
        raise ValueError("stem lengths and the shortest saleable length go together")
    deviates = Deviates(seed)
    stacked = StackedSeasons(deciding)
    names = stacked.entries
    if check is not None and check not in names:
        raise UnknownName("entry", check, names)
    values = _values(stacked, swing, draws, deviates)
    length = _values(StackedSeasons(lengths), length_swing, draws, deviates) if lengths else None
    next_length = _aligned(length, names) if length else None
    terms = Terms(
        better=better,
        check=check,
        margin=None if margin is None else margin.of(float(values.draws.mean())),
        shortest=shortest,
        tall_chance=tall_chance,
        coverage=coverage,
    )
    grown = [len({s.season for s in deciding if name in s.entries}) for name in names]
    return Outlook(
        entries=prospects(names, grown, values.draws, next_length, terms),
        terms=terms,
        seasons=values.seasons,
        swing=values.swing,
        season_sd=values.season_sd,
        length_seasons=length.seasons if length else (),
        length_swing=length.swing if length else None,
        length_season_sd=length.season_sd if length else None,
        draws=len(values.draws),
        seed=seed,
        next_season=values.draws,
        next_length=next_length,
    )


def rescreened(view: Outlook, tall_chance: float) -> Outlook:
    """The same draws judged with another chance wanted of reaching the shortest length."""
    terms = replace(view.terms, tall_chance=tall_chance)
    names = [row.entry for row in view.entries]
    grown = [row.seasons for row in view.entries]
    rows = prospects(names, grown, view.next_season, view.next_length, terms)
    return replace(view, terms=terms, entries=rows)


@dataclass(frozen=True, slots=True, eq=False)
class _Values:
    """The draws of one measure and what they were made with."""

    entries: tuple[str, ...]
    seasons: tuple[tuple[int, str], ...]
    swing: Swing
    season_sd: float | None
    draws: Floats


def _values(
    stacked: StackedSeasons, given: float | None, draws: int, deviates: Deviates
) -> _Values:
    trials = len(stacked.seasons)
    likelihood = stacked.likelihood() if given is None else None
    if given is not None:
        swing = Swing(given, SwingSource.GIVEN, trials)
    elif likelihood is None:
        between = (
            float(np.std(stacked.combine(0.0).means, ddof=1)) if len(stacked.entries) > 1 else 0.0
        )
        swing = Swing(ASSUMED_SWING_SHARE * between, SwingSource.ASSUMED, trials)
    else:
        swing = Swing(
            likelihood.estimate,
            SwingSource.ESTIMATED,
            trials,
            likelihood.low,
            likelihood.high,
            likelihood.contrasts,
        )
    variance = stacked.season_variance(swing.sd)
    season_sd = None if variance is None else float(np.sqrt(variance))
    spread = np.array([swing.sd]) if likelihood is None else likelihood.spread(SWING_PARTS)
    return _Values(
        entries=stacked.entries,
        seasons=tuple((s.season, s.trial) for s in stacked.seasons),
        swing=swing,
        season_sd=season_sd,
        draws=next_season(stacked, spread, season_sd or 0.0, draws, deviates),
    )


def _aligned(length: _Values, names: Sequence[str]) -> Floats:
    """The draws of length in the order of ``names``, NaN for an entry without any."""
    place = {name: i for i, name in enumerate(length.entries)}
    aligned = np.full((len(length.draws), len(names)), np.nan)
    for i, name in enumerate(names):
        if name in place:
            aligned[:, i] = length.draws[:, place[name]]
    return aligned
