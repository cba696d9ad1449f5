"""What each entry may bring next season, from the adjusted means of the seasons so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trials.decide.draws import Deviates
from trials.decide.predictions import predict
from trials.decide.prospects import EntryOutlook, Terms, prospects
from trials.decide.spreads import SDs
from trials.decide.two_stage import SeasonMeans, StackedSeasons
from trials.errors import UnknownName
from trials.model.trial import Better, Margin

Floats = NDArray[np.float64]
LEVEL_SHARE = 0.07  # SD of the seasons' general level before any is seen: judgement
LEVEL_DF = 6.0  # and how many seasons that guess counts as
MOST_OTHERS = 12  # trials of other crops: more say little more, and each costs time


@dataclass(frozen=True, slots=True)
class Variation:
    """How far a season moves an entry next to the others, as an SD with its middle 95 %.

    ``trials`` and ``others`` count the crop's own trials and the farm's other trials behind it.
    """

    sd: float
    low: float
    high: float
    trials: int
    others: int


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Next season's prospects of every entry, entries by name.

    ``level_sd`` is the SD of the seasons' general level, None (and left out of ``low`` and
    ``high``) where there is one season only. ``worth`` (draws, k) are the joint draws of the
    entries' value over seasons that every chance was counted from, ``next_season`` those of next
    season; ``next_length`` likewise (NaN where no length was recorded). With 20,000 draws a chance
    is known to within 0.007 (two Monte Carlo standard errors at worst). ``season_noise`` is the
    error variance of an entry's mean in the newest trial plus that of a season.
    """

    entries: tuple[EntryOutlook, ...]
    terms: Terms
    seasons: tuple[tuple[int, str], ...]
    variation: Variation
    entry_sd: float
    level_sd: float | None
    length_seasons: tuple[tuple[int, str], ...]
    length_variation: Variation | None
    draws: int
    seed: int
    season_noise: float
    worth: Floats
    next_season: Floats
    next_length: Floats | None


def outlook(
    deciding: Sequence[SeasonMeans],
    *,
    better: Better,
    check: str | None = None,
    lengths: Sequence[SeasonMeans] = (),
    shortest: float | None = None,
    saleable: Mapping[str, float] | None = None,
    tall_chance: float = 0.80,
    margin: Margin | None = None,
    usual: float | None = None,
    known: Mapping[str, float] | None = None,
    others: Sequence[tuple[Sequence[SeasonMeans], float]] = (),
    sds: SDs | None = None,
    length_sds: SDs | None = None,
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
    saleable
        The marketable part (0 to 1) of each entry's graded stems; one below a half is no candidate.
    tall_chance
        An entry with a smaller chance of reaching ``shortest`` is no candidate.
    margin
        A difference that does not matter.
    usual
        The size the measure usually has, which the priors are shares of: the mean of the means,
        where none is given. A net has the gross as its size.
    known
        What is known of each entry without error, to be added to its value (the price of its
        seed, below 0): it is not shrunk.
    others
        The farm's other trials that share entries over seasons, crop by crop, with the usual size
        of their measure.
    sds, length_sds
        The SDs of entries and seasons, where they are given and not integrated over.
    coverage
        The chance with which an entry's next season lies between ``low`` and ``high``.
    draws, seed
        How many draws, and the stored seed that repeats them.

    Returns
    -------
    Outlook

    Notes
    -----
    Entries are a sample of entries: see `predictions` for the model and its priors. Chances and
    expected losses are of the entries' values over seasons, which is what a choice can know.

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
    values = _values(stacked, usual, others, sds, draws, deviates)
    added = np.array([(known or {}).get(name, 0.0) for name in names])
    worth, later = values.worth + added, values.later + added
    length = (
        _values(StackedSeasons(lengths), None, (), length_sds, draws, deviates) if lengths else None
    )
    next_length = _aligned(length, names) if length else None
    size = abs(float(worth.mean())) if usual is None else usual
    terms = Terms(
        better=better,
        check=check,
        margin=None if margin is None else margin.of(size),
        shortest=shortest,
        tall_chance=tall_chance,
        coverage=coverage,
        saleable=saleable or {},
        usual=size,
    )
    grown = [len({s.season for s in deciding if name in s.entries}) for name in names]
    newest = stacked.seasons[-1]
    return Outlook(
        entries=prospects(names, grown, worth, later, next_length, terms),
        terms=terms,
        seasons=values.seasons,
        variation=values.variation,
        entry_sd=values.entry_sd,
        level_sd=values.level_sd,
        length_seasons=length.seasons if length else (),
        length_variation=length.variation if length else None,
        draws=len(worth),
        seed=seed,
        season_noise=float(np.diag(newest.cov).mean()) + values.variation.sd**2,
        worth=worth,
        next_season=later,
        next_length=next_length,
    )


def rescreened(view: Outlook, tall_chance: float) -> Outlook:
    """The same draws judged with another chance wanted of reaching the shortest length."""
    terms = replace(view.terms, tall_chance=tall_chance)
    names = [row.entry for row in view.entries]
    grown = [row.seasons for row in view.entries]
    rows = prospects(names, grown, view.worth, view.next_season, view.next_length, terms)
    return replace(view, terms=terms, entries=rows)


@dataclass(frozen=True, slots=True, eq=False)
class _Values:
    """The draws of one measure and what they were made with."""

    entries: tuple[str, ...]
    seasons: tuple[tuple[int, str], ...]
    variation: Variation
    entry_sd: float
    level_sd: float | None
    worth: Floats
    later: Floats


def _values(
    stacked: StackedSeasons,
    usual: float | None,
    others: Sequence[tuple[Sequence[SeasonMeans], float]],
    sds: SDs | None,
    draws: int,
    deviates: Deviates,
) -> _Values:
    trials = len(stacked.seasons)
    told = [(StackedSeasons(means), size) for means, size in others[:MOST_OTHERS]]
    found = predict(stacked, usual=usual or _usual(stacked), others=told, sds=sds)
    worth, later = found.draws(draws, deviates)
    level_sd, df = _level(stacked, found.season_sd, usual or _usual(stacked))
    if level_sd is not None:
        half = deviates.student(df, (len(later) + 1) // 2, 1) * level_sd * np.sqrt(1 + 1 / trials)
        later = later + np.vstack([half, -half])[: len(later)]
    return _Values(
        entries=stacked.entries,
        seasons=tuple((s.season, s.trial) for s in stacked.seasons),
        variation=Variation(
            found.season_sd, found.season_low, found.season_high, trials, len(told)
        ),
        entry_sd=found.entry_sd,
        level_sd=level_sd,
        worth=worth,
        later=later,
    )


def _level(stacked: StackedSeasons, season_sd: float, usual: float) -> tuple[float | None, float]:
    """SD of the seasons' general level with its degrees of freedom; None from one season.

    What the seasons show is joined by a guess that counts as ``LEVEL_DF`` of them: two or three
    seasons alone say next to nothing.
    """
    variance = stacked.season_variance(season_sd)
    if variance is None:
        return None, 0.0
    seen = len(stacked.seasons) - 1
    guess = LEVEL_DF * (LEVEL_SHARE * usual) ** 2
    return float(np.sqrt((seen * variance + guess) / (seen + LEVEL_DF))), seen + LEVEL_DF


def _usual(stacked: StackedSeasons) -> float:
    """The mean size of the means; where all are 0 there is nothing to take shares of."""
    size = float(np.abs(stacked.y).mean())
    return size if size > 0 else 1.0


def _aligned(length: _Values, names: Sequence[str]) -> Floats:
    """The draws of length in the order of ``names``, NaN for an entry without any."""
    place = {name: i for i, name in enumerate(length.entries)}
    aligned = np.full((len(length.later), len(names)), np.nan)
    for i, name in enumerate(names):
        if name in place:
            aligned[:, i] = length.later[:, place[name]]
    return aligned
