"""What another season's trial is worth before it is grown: expected value of sample information.

Raiffa & Schlaifer 1961 (Applied Statistical Decision Theory, chapter 5): a trial is worth what the
choice after it is expected to earn beyond the choice now, over everything the trial may show.

Formula: worth of a trial = E(max over choices of the value after it) - value of the choice now.
Limits: The next trial is taken to be like the last one in plots and errors.
Source: Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, chapter 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TrialCost:
    """What one more season's trial of an entry costs, in money.

    ``plots`` of ``plot_metres`` each, ``tallying`` per plot, and the cheapest packet of its seed
    by entry. What the plots earn less than the leader would in their place is added to it.
    """

    plots: float
    plot_metres: float
    tallying: float
    packets: Mapping[str, float] = field(default_factory=dict)

    def of(self, entry: str, less_net: float) -> float:
        """The cost for an entry whose net is expected ``less_net`` a metre below the leader's."""
        ground = self.plots * (self.tallying + self.plot_metres * max(less_net, 0.0))
        return ground + self.packets.get(entry, 0.0)


def worth_beside(leader: Floats, entry: Floats, noise: float) -> float:
    """What growing an entry next to the leader for one season is worth, a metre of bed.

    Parameters
    ----------
    leader, entry
        Joint draws (n,) of their value a metre.
    noise
        Variance with which the trial shows each of them: its error and the season.

    Notes
    -----
    The difference d now has mean m < 0 and variance v; the trial shows it with variance 2 noise,
    so its mean afterwards has variance v²/(v + 2 noise) about m, and the gain is
    E max(that mean, 0), the unit normal loss.
    """
    difference = entry - leader
    mean, variance = float(difference.mean()), float(difference.var())
    if variance <= 0:
        return max(mean, 0.0)
    sd = variance / sqrt(variance + 2 * noise)
    u = -mean / sd
    return float(sd * (norm.pdf(u) - u * norm.sf(u))) - max(mean, 0.0)
