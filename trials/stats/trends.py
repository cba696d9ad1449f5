"""The trend over a factor whose levels are numbers, such as a spacing: straight, bent, or neither.

The means of the levels are parted by orthogonal polynomials in the levels' own distances: a
straight part, a bend, and what fits neither, each with its F test on the errors of the fit
(statsmodels' least squares where the layout has one error stratum). The interval of the best level
is Fieller's.

Formula: L = c'm with c orthogonal to the lower powers of the levels; F = L² / var(L). The best
    level is -b / 2c.
Limits: Three numeric levels or more; a best level is given only within those tried and where the
    bend is real.
Source: Snedecor & Cochran 1989, Statistical Methods, 8th edition, chapter 19; Fieller 1954, J. R.
    Statist. Soc. B 16:175.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np

from trials.stats.design.linear_model import Fit
from trials.stats.design.structure import Structure
from trials.stats.design.table import Floats
from trials.stats.design.terms import Term
from trials.stats.distributions.quadrature import t_quantile
from trials.stats.what_was_tested import TermTest, Trend

FEWEST_LEVELS = 3
_NUMBER = re.compile(r"(\d+(?:\.\d+)?)\s*([^\d\s].*)?")


def numbers_of(levels: Sequence[str]) -> tuple[Floats, str] | None:
    """The numbers of levels such as "9 in", and their unit; None where one has no number."""
    found = [_NUMBER.fullmatch(level.strip()) for level in levels]
    if any(match is None for match in found) or len(levels) < FEWEST_LEVELS:
        return None
    units = {(match[2] or "").strip() for match in found if match is not None}
    numbers = np.array([float(match[1]) for match in found if match is not None])
    if len(units) != 1 or len(set(numbers)) < len(numbers):
        return None
    return numbers, units.pop()


def trend_of(
    structure: Structure, fit: Fit, term: Term, alpha: float, *, higher: bool
) -> Trend | None:
    """The trend of a main effect; None where its levels are no numbers or cannot be compared.

    ``higher``: whether more of the measure is welcome, for the best level.
    """
    if len(term.factors) != 1 or not term.whole:
        return None
    factor = term.factors[0]
    read = numbers_of(structure.cells.levels[factor])
    effect = term.contrasts
    if (
        read is None
        or not structure.carries(effect).all()
        or not fit.estimable(effect).all()
        or len(term.codes) != len(read[0])
    ):
        return None
    x, unit = read[0][term.codes[:, 0]], read[1]
    centred = x - x.mean()
    powers = np.vander(centred / np.abs(centred).max(), len(x), increasing=True)
    parts = np.linalg.qr(powers)[0].T @ term.weights  # (k, c): constant, straight, bent, …
    slope_row = (centred / (centred @ centred)) @ term.weights
    slope, se, df = (float(each[0]) for each in fit.estimates(slope_row[None, :]))
    reach = float(t_quantile(1 - alpha / 2, np.array([df]))[0]) * se
    bend = _part(fit, "bend", parts[2:3])
    best = _best(fit, centred, term.weights, alpha, higher=higher) if bend.p <= alpha else None
    at, low, high = (None, None, None) if best is None else best
    middle = float(x.mean())
    return Trend(
        structure.cells.factors[factor],
        unit,
        float(x.min()),
        float(x.max()),
        slope,
        slope - reach,
        slope + reach,
        _part(fit, "straight", parts[1:2]),
        bend,
        _part(fit, "rest", parts[3:]) if len(x) > FEWEST_LEVELS else None,
        None if at is None else at + middle,
        None if low is None else low + middle,
        None if high is None else high + middle,
    )


def _part(fit: Fit, name: str, contrasts: Floats) -> TermTest:
    test = fit.df.joint(contrasts)
    return TermTest(name, test.num_df, test.den_df, test.F, test.p)


def _best(
    fit: Fit, x: Floats, weights: Floats, alpha: float, *, higher: bool
) -> tuple[float, float | None, float | None] | None:
    """Where the parabola through the means turns, from the middle of the levels, with limits."""
    rows = np.linalg.pinv(np.vander(x, 3, increasing=True))[1:] @ weights  # of b and c
    (b, c), cov = rows @ fit.means, rows @ fit.cov @ rows.T
    at = -b / (2 * c)
    if (c < 0) != higher or not x.min() <= at <= x.max():
        return None
    t = float(t_quantile(1 - alpha / 2, np.array([fit.df.of_contrasts(rows).min()]))[0])
    # The places z where b + 2 c z could be 0: (b + 2 c z)^2 <= t^2 var(b + 2 c z).
    a2 = 4 * (c**2 - t**2 * cov[1, 1])
    a1 = 4 * (b * c - t**2 * cov[0, 1])
    a0 = b**2 - t**2 * cov[0, 0]
    inside = a1**2 - 4 * a2 * a0
    if a2 <= 0 or inside < 0:
        return float(at), None, None
    root = math.sqrt(inside)
    return float(at), float((-a1 - root) / (2 * a2)), float((-a1 + root) / (2 * a2))
