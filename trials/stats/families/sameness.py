"""What each simultaneous interval comes to: more, less, the same for the purpose, or unknown.

Formula: the same where the simultaneous interval lies within -margin to margin.
Limits: The margin is the grower's, fixed before the trial; without one no pair is ever called the
    same.
Source: Schuirmann 1987, J. Pharmacokin. Biopharm. 15:657 (two one-sided tests; here by simultaneous
    intervals).
"""

from __future__ import annotations

import numpy as np

from trials.stats.design.table import Floats
from trials.stats.results import Verdict


def verdicts(low: Floats, high: Floats, margin: float | None) -> tuple[Verdict, ...]:
    """What each simultaneous interval comes to.

    Inside the margin: the same for the grower's purpose, even where it leaves out 0. Otherwise
    more or less where it leaves out 0, and unknown where it does not. Every verdict of a family
    is right together with probability 1 - alpha at least.
    """
    same = (
        np.zeros(np.shape(low), dtype=bool) if margin is None else (low > -margin) & (high < margin)
    )
    return tuple(
        Verdict.SAME
        if is_same
        else Verdict.MORE
        if lowest > 0.0
        else Verdict.LESS
        if highest < 0.0
        else Verdict.UNKNOWN
        for is_same, lowest, highest in zip(same, low, high, strict=True)
    )
