"""The scale a measure is compared on: plots taken to it, results brought back from it.

A comparison on a scale is that of the transformed plot values. Back in the measure's own unit its
means are medians, and what was a difference of logarithms is a ratio (Bland & Altman 1996, British
Medical Journal 312:1079 and 312:1153); a difference of logits is an odds ratio (Cox & Snell 1989,
Analysis of Binary Data, section 1.3). A difference of square roots has no such meaning and stays.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from trials.errors import ComparisonRefused
from trials.model.trial import Margin
from trials.stats.design.table import Floats, Scale
from trials.stats.results import AgainstBest, Caution, Comparison, LeastDifference, Mean, Pair

RATIOS = frozenset({Scale.LOG, Scale.LOGIT})
MOST_NAMED = 8
LARGEST_LOG = 700.0  # beyond it a ratio is no number any more


def _exp(x: float) -> float:
    if abs(x) > LARGEST_LOG:
        raise ComparisonRefused(
            "The limits on this scale are too wide to be written as ratios. Compare as measured, "
            "or repeat the treatments in more blocks."
        )
    return math.exp(x)


_TO: dict[Scale, Callable[[Floats], Floats]] = {
    Scale.IDENTITY: np.positive,
    Scale.LOG: np.log,
    Scale.SQUARE_ROOT: np.sqrt,
    Scale.LOGIT: logit,
}
_FROM: dict[Scale, Callable[[float], float]] = {
    Scale.IDENTITY: float,
    Scale.LOG: _exp,
    Scale.SQUARE_ROOT: lambda x: max(x, 0.0) ** 2,
    Scale.LOGIT: lambda x: float(expit(x)),
}
_OUTSIDE: dict[Scale, Callable[[Floats], NDArray[np.bool_]]] = {
    Scale.IDENTITY: lambda y: np.zeros(y.shape, dtype=bool),
    Scale.LOG: lambda y: y <= 0,
    Scale.SQUARE_ROOT: lambda y: y < 0,
    Scale.LOGIT: lambda y: (y <= 0) | (y >= 1),
}
_REFUSALS = {
    Scale.LOG: (
        "A figure of 0 or less has no logarithm. Compare on the square-root scale or as measured."
    ),
    Scale.SQUARE_ROOT: "A negative figure has no square root. Compare it as measured.",
    Scale.LOGIT: (
        "Only a share above 0 and below 1 has a logit. Compare as measured. For a measure that is "
        "not a share, use the log scale."
    ),
}
_CAUTIONS = {
    Scale.LOG: (
        "Compared on the log scale: means and their limits are medians in the measure's own unit, "
        "and differences are ratios; 1 means no difference."
    ),
    Scale.SQUARE_ROOT: (
        "Compared on the square-root scale: means and their limits are medians in the measure's "
        "own unit, but differences are those of square roots and have no unit."
    ),
    Scale.LOGIT: (
        "Compared on the logit scale: means and their limits are medians in the measure's own "
        "unit, and differences are odds ratios; 1 means no difference."
    ),
}


def on_scale(y: Floats, scale: Scale, plot_names: tuple[str, ...]) -> Floats:
    """The plots' values (n,) on a scale; NaN stays NaN.

    Raises
    ------
    ComparisonRefused
        Some plot's figure has no place on the scale; names the plots.
    """
    outside = np.flatnonzero(_OUTSIDE[scale](y))
    if outside.size:
        names = [f"{plot_names[row]} ({y[row]:g})" for row in outside[:MOST_NAMED]]
        more = f" and {outside.size - MOST_NAMED} more" if outside.size > MOST_NAMED else ""
        raise ComparisonRefused(
            f"Plots that cannot be compared on the {scale} scale: {', '.join(names)}{more}. "
            f"{_REFUSALS[scale]}"
        )
    return np.asarray(_TO[scale](y), dtype=np.float64)


def margin_on(margin: Margin | None, grand_mean: float, scale: Scale) -> float | None:
    """The margin among differences on the scale; None where it has no single size there.

    Per cent become a ratio on the log scale: within 10 % is a ratio from 1 / 1.1 to 1.1.
    """
    if margin is None or scale is Scale.IDENTITY:
        return None if margin is None else margin.of(grand_mean)
    if scale is Scale.LOG and margin.percent:
        return float(np.log1p(margin.of(1.0)))
    return None


def in_unit(value: float, scale: Scale) -> float:
    """A value on a scale, back in the measure's own unit."""
    return _FROM[scale](value)


def as_difference(value: float, scale: Scale) -> float:
    """A difference on a scale as it is read: a ratio where the scale makes ratios."""
    return _exp(value) if scale in RATIOS else value


def reported(found: Comparison, scale: Scale, margin: Margin | None) -> Comparison:
    """A comparison of transformed values (``found``), its results as they are to be read.

    Means, their limits and the grand mean come back to the measure's unit; differences and their
    limits, those with the best, least differences and the margin become ratios on the log and
    logit scales. Errors, degrees of freedom, p-values, verdicts and letters are the scale's.
    """
    if scale is Scale.IDENTITY:
        return found
    back = _FROM[scale]
    effect = _exp if scale in RATIOS else float
    cautions = [Caution("scale", _CAUTIONS[scale])]
    if margin is not None and found.margin is None:
        cautions.append(
            Caution(
                "margin-not-used",
                f"The margin has no single size on the {scale} scale, so no pair is called "
                "the same. Give it in % on the log scale, or compare as measured.",
            )
        )
    return replace(
        found,
        means=tuple(_mean(mean, back) for mean in found.means),
        all_pairs=tuple(_pair(pair, effect) for pair in found.all_pairs),
        with_check=tuple(_pair(pair, effect) for pair in found.with_check),
        with_best=tuple(_against_best(row, effect) for row in found.with_best),
        least_differences=tuple(_least(row, effect) for row in found.least_differences),
        grand_mean=back(found.grand_mean),
        cv_percent=None,
        margin=None if found.margin is None else effect(found.margin),
        cautions=(*cautions, *found.cautions),
    )


def _mean(mean: Mean, back: Callable[[float], float]) -> Mean:
    return replace(
        mean,
        mean=back(mean.mean),
        low=None if mean.low is None else back(mean.low),
        high=None if mean.high is None else back(mean.high),
    )


def _pair(pair: Pair, effect: Callable[[float], float]) -> Pair:
    return replace(
        pair,
        difference=effect(pair.difference),
        low=effect(pair.low),
        high=effect(pair.high),
    )


def _against_best(row: AgainstBest, effect: Callable[[float], float]) -> AgainstBest:
    return replace(row, low=effect(row.low), high=effect(row.high))


def _least(row: LeastDifference, effect: Callable[[float], float]) -> LeastDifference:
    return replace(
        row,
        value=None if row.value is None else effect(row.value),
        smallest=None if row.smallest is None else effect(row.smallest),
        largest=None if row.largest is None else effect(row.largest),
    )
