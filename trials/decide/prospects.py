"""From joint draws of next season to each entry's chances and what choosing it may cost.

Formula: chance of the best = share of draws in which it is; expected loss = mean over draws of
    (best - entry).
Limits: Of the candidates only: an entry too short to sell is none, and one never tried is unknown.
Source: Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, chapter 5.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trials.model.saleable import LEAST_SALEABLE_SHARE
from trials.model.trial import Better

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Terms:
    """What the entries are compared with; ``margin`` and ``shortest`` in their measure's unit.

    ``usual`` is the size of the measure that shares are of. ``saleable`` is the marketable part
    (0 to 1) of each entry's graded stems, where it has any.
    """

    better: Better
    check: str | None = None
    margin: float | None = None
    shortest: float | None = None
    tall_chance: float = 0.80
    coverage: float = 0.80
    saleable: Mapping[str, float] = field(default_factory=dict)
    usual: float = 1.0


@dataclass(frozen=True, slots=True)
class EntryOutlook:
    """What next season may bring for one entry.

    ``mean``, and ``low`` to ``high`` which hold the entry's true value with the outlook's
    ``coverage``, are in the measure's unit. ``candidate`` is False for an entry whose stems are
    too likely to be short; the chances and the shortfall are against the best *candidate*, and
    None for an entry that is not one. ``chance_tall`` is the chance that its mean stem length
    next season reaches the shortest saleable length; None where no length was recorded.
    ``chance_beats_check`` is None for the check, and where there is none. ``saleable_share`` is
    the marketable part of its graded stems; None where none was graded.
    """

    entry: str
    seasons: int
    mean: float
    low: float
    high: float
    candidate: bool
    chance_best: float | None
    expected_shortfall: float | None
    chance_within_margin: float | None
    chance_beats_check: float | None
    length_mean: float | None
    chance_tall: float | None
    saleable_share: float | None = None

    @property
    def mostly_short(self) -> bool:
        """Whether too few of its graded stems were long enough to sell."""
        return self.saleable_share is not None and self.saleable_share < LEAST_SALEABLE_SHARE


def prospects(
    names: Sequence[str],
    seasons: Sequence[int],
    worth: Floats,
    next_season: Floats,
    next_length: Floats | None,
    terms: Terms,
) -> tuple[EntryOutlook, ...]:
    """Each entry's prospects, from draws (draws, k) of its value and its stem length.

    ``worth`` is an entry's value over seasons, which chances and losses are of; ``next_season`` and
    ``next_length`` are of next season.

    ``seasons`` says in how many seasons each entry was grown. An entry is a candidate unless its
    chance of reaching the shortest saleable length is known and below ``terms.tall_chance``, or
    fewer than half of its graded stems were long enough to sell.

    The expected shortfall is the mean, over the draws, of the best candidate's value less the
    entry's: the expected opportunity loss of decision analysis (Raiffa & Schlaifer 1961, Applied
    Statistical Decision Theory, chapter 5).
    """
    tall = _chances_tall(next_length, len(names), terms.shortest)
    candidates = np.array(
        [
            (chance is None or chance >= terms.tall_chance)
            and terms.saleable.get(name, 1.0) >= LEAST_SALEABLE_SHARE
            for name, chance in zip(names, tall, strict=True)
        ]
    )
    worth = worth if terms.better is Better.HIGHER else -worth
    best = worth[:, candidates].max(axis=1, keepdims=True) if candidates.any() else None
    tail = (1 - terms.coverage) / 2
    low, high = np.quantile(next_season, [tail, 1 - tail], axis=0)
    check = None if terms.check is None else worth[:, list(names).index(terms.check)]
    found = []
    for i, name in enumerate(names):
        shortfall = best[:, 0] - worth[:, i] if best is not None and candidates[i] else None
        found.append(
            EntryOutlook(
                entry=name,
                seasons=seasons[i],
                mean=float(next_season[:, i].mean()),
                low=float(low[i]),
                high=float(high[i]),
                candidate=bool(candidates[i]),
                chance_best=None if shortfall is None else float((shortfall == 0).mean()),
                expected_shortfall=None if shortfall is None else float(shortfall.mean()),
                chance_within_margin=None
                if shortfall is None or terms.margin is None
                else float((shortfall <= terms.margin).mean()),
                chance_beats_check=None
                if check is None or name == terms.check
                else float((worth[:, i] > check).mean()),
                length_mean=None
                if next_length is None or tall[i] is None
                else float(next_length[:, i].mean()),
                chance_tall=tall[i],
                saleable_share=terms.saleable.get(name),
            )
        )
    return tuple(found)


def _chances_tall(
    next_length: Floats | None, entries: int, shortest: float | None
) -> tuple[float | None, ...]:
    if next_length is None or shortest is None:
        return (None,) * entries
    return tuple(
        None if np.isnan(length[0]) else float((length >= shortest).mean())
        for length in next_length.T
    )
