"""What germination tests of a seed lot say: the rate, its interval, and whether replicates agree.

The interval is Wilson's (1927, J. Am. Stat. Assoc. 22:209). Replicates agree where they vary no
more than chance makes equal seeds vary: the index of dispersion of Fisher against chi-square
(Fisher 1925, Statistical Methods for Research Workers, section 19; Snedecor & Cochran 1989,
Statistical Methods, section 11.7). The tolerance tables of the International Rules for Seed Testing
(ISTA, table 5B) rest on the same binomial law (Miles 1963, Proc. Int. Seed Test. Assoc. 28:525);
they are not copied here.

Formula: (p + z²/2n ± z sqrt(p(1 - p)/n + z²/4n²)) / (1 + z²/n); sum (x - n p)² / (n p (1 - p))
    against chi-square.
Limits: Of the seeds tested; in a cold or dry bed fewer come up.
Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; Snedecor & Cochran 1989, Statistical Methods,
    section 11.7.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm

MOST_CHANCE = 0.025  # a wider range than this chance allows calls for another test, as in the rules


@dataclass(frozen=True, slots=True)
class Replicate:
    """So many of the seeds laid out germinated."""

    seeds: int
    germinated: int

    def __post_init__(self) -> None:
        if not 0 <= self.germinated <= self.seeds or self.seeds < 1:
            raise ValueError(f"{self.germinated} of {self.seeds} seeds cannot have germinated")


@dataclass(frozen=True, slots=True)
class Germination:
    """A lot's rate with its 95% limits.

    ``chance`` is that of replicates that differ so much or more by chance alone, None where there
    is one only; ``agree`` is None then too.
    """

    seeds: int
    germinated: int
    low: float
    high: float
    chance: float | None

    @property
    def rate(self) -> float:
        return self.germinated / self.seeds

    @property
    def agree(self) -> bool | None:
        return None if self.chance is None else self.chance >= MOST_CHANCE


def germination(replicates: Sequence[Replicate], coverage: float = 0.95) -> Germination:
    """The rate over all replicates; refuses (ValueError) none at all."""
    if not replicates:
        raise ValueError("a germination test has at least one replicate")
    seeds = np.array([one.seeds for one in replicates], dtype=np.float64)
    found = np.array([one.germinated for one in replicates], dtype=np.float64)
    total, germinated = float(seeds.sum()), float(found.sum())
    rate = germinated / total
    z = float(norm.ppf(0.5 + coverage / 2))
    middle = (rate + z**2 / (2 * total)) / (1 + z**2 / total)
    half = z * np.sqrt(rate * (1 - rate) / total + z**2 / (4 * total**2)) / (1 + z**2 / total)
    chance = None
    if len(replicates) > 1:
        spread = rate * (1 - rate)
        index = float(((found - seeds * rate) ** 2 / seeds).sum() / spread) if spread else 0.0
        chance = float(chi2.sf(index, len(replicates) - 1))
    return Germination(
        int(total),
        int(germinated),
        max(float(middle - half), 0.0),
        min(float(middle + half), 1.0),
        chance,
    )
