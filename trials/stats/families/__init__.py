"""The four families of comparisons among the adjusted means of one set of entries.

Each takes the means (k,), their covariance (k, k) and the method's degrees of freedom for
contrasts, and returns arrays: errors come from the fitted model, never from raw group means.
Limits are simultaneous over the family. ``pairs``, ``check`` and ``best`` hold one family each,
``sameness`` what their intervals come to.
"""

from __future__ import annotations

from trials.stats.families.best import ShortOfBest, with_best
from trials.stats.families.check import Tail, with_check
from trials.stats.families.differences import DfOf, Differences
from trials.stats.families.pairs import all_pairs, conservative, tukey_kramer
from trials.stats.families.sameness import verdicts

__all__ = [
    "DfOf",
    "Differences",
    "ShortOfBest",
    "Tail",
    "all_pairs",
    "conservative",
    "tukey_kramer",
    "verdicts",
    "with_best",
    "with_check",
]
