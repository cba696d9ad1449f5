"""How to grow each variety: what a treatment earns on it, and up to which prices that holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trials.decide.draws import Deviates
from trials.decide.predictions import predict
from trials.decide.spreads import SpreadPrior
from trials.decide.two_stage import SeasonMeans, StackedSeasons

# How far a treatment's effect differs between varieties and from season to season, as shares of
# the usual gross: about half of what varieties themselves do (judgement, no source).
INTERACTIONS = SpreadPrior(entry_share=0.06, season_share=0.035)
COVERAGE = 0.80
DRAWS = 4000


@dataclass(frozen=True, slots=True)
class Premium:
    """What the longest grade brings beside the shortest: their lengths and the price ratio."""

    long_cm: int
    short_cm: int
    ratio: float


@dataclass(frozen=True, slots=True)
class Growing:
    """What a treatment earns on a variety beside the other one, in the deciding measure.

    ``gain`` is the expected difference of ``level`` over ``other`` (positive: ``level`` is the
    better), drawn towards the treatment's mean effect over varieties, and lies between ``low``
    and ``high`` with a chance of 0.8. ``break_even`` is the ratio of the prices of the longest
    and the shortest grade at which the two earn the same; it pays from there on up
    (``pays_above``) or down. None where no ratio does.
    """

    variety: str
    factor: str
    level: str
    other: str
    gain: float
    low: float
    high: float
    chance: float
    premium: Premium | None = None
    break_even: float | None = None
    pays_above: bool = True


def growing(
    factor: str,
    levels: tuple[str, str],
    effects: SeasonMeans,
    premiums: Mapping[str, float],
    *,
    usual: float,
    prices: Premium | None,
    varieties: Sequence[str],
) -> tuple[Growing, ...]:
    """Per variety the better of two levels, the interaction shrunk.

    Parameters
    ----------
    effects
        The net at the first level less that at the second, by variety.
    premiums
        The part of each effect that comes from prices above that of the shortest grade, likewise.
    usual
        The usual gross, which the priors are shares of.
    """
    found = predict(StackedSeasons([effects]), usual=usual, prior=INTERACTIONS)
    worth, _ = found.draws(DRAWS, Deviates(1))
    tail = (1 - COVERAGE) / 2
    result = []
    for variety in varieties:
        if variety not in found.entries:
            continue
        i = found.entries.index(variety)
        gain = float(found.mean[i])
        sign = 1.0 if gain >= 0 else -1.0
        level, other = levels if gain >= 0 else levels[::-1]
        low, high = np.quantile(sign * worth[:, i], [tail, 1 - tail])
        part = sign * premiums.get(variety, 0.0)
        even = _break_even(sign * gain, part, prices)
        result.append(
            Growing(
                variety=variety,
                factor=factor,
                level=level,
                other=other,
                gain=sign * gain,
                low=float(low),
                high=float(high),
                chance=float((sign * worth[:, i] > 0).mean()),
                premium=prices,
                break_even=even,
                pays_above=part > 0,
            )
        )
    return tuple(result)


def _break_even(gain: float, part: float, prices: Premium | None) -> float | None:
    """The ratio at which nothing is gained: premiums scale with the ratio less 1."""
    if prices is None or part == 0 or prices.ratio <= 1:
        return None
    ratio = 1 + (1 - gain / part) * (prices.ratio - 1)
    return ratio if ratio > 1 else None
