"""The distributions behind simultaneous comparisons, by fast deterministic quadrature.

Every statistic here is a function of normal variates divided by one estimated standard
deviation. The probability is first found for a known deviation, as a smooth function of one
width ``w``, then averaged over the chi distribution of the estimate. Both integrals are taken
by the trapezoidal rule, which converges geometrically for analytic integrands that vanish at
both ends (Davis & Rabinowitz 1984, Methods of Numerical Integration, section 3.4). The steps
are chosen so that the error stays near 1e-9; there is no sampling and so no jitter.

Degrees of freedom may be fractional, and ``inf`` where the deviation is known.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaincinv, ndtr, ndtri, stdtr, stdtrit

from trials.stats.design.table import Floats

_TAIL = 1e-12  # probability left out at either end of the chi scale
_RANGE_STEP = 0.05
_RANGE_END = 12.0  # the range of 500 normal variates exceeds it with probability below 1e-11


def t_two_sided(t: ArrayLike, df: ArrayLike) -> Floats:
    """P(|T| > |t|) of Student's t; ``df`` may be fractional or infinite."""
    t, df = np.broadcast_arrays(np.asarray(t, float), np.asarray(df, float))
    return np.asarray(2.0 * np.where(np.isinf(df), ndtr(-np.abs(t)), stdtr(df, -np.abs(t))))


def t_upper(t: ArrayLike, df: ArrayLike) -> Floats:
    """P(T > t) of Student's t."""
    t, df = np.broadcast_arrays(np.asarray(t, float), np.asarray(df, float))
    return np.asarray(np.where(np.isinf(df), ndtr(-t), stdtr(df, -t)))


def t_quantile(p: ArrayLike, df: ArrayLike) -> Floats:
    """The ``t`` with P(T <= t) = p of Student's t."""
    p, df = np.broadcast_arrays(np.asarray(p, float), np.asarray(df, float))
    return np.asarray(np.where(np.isinf(df), ndtri(p), stdtrit(df, p)))


def chi_scale(df: ArrayLike, sharpness: float) -> tuple[Floats, Floats]:
    """Nodes and weights for averaging over S, where ``df`` S^2 is chi-squared on ``df``.

    The rule is trapezoidal in log S. ``sharpness`` is 1 / variance, on the scale of log w, of the
    steepest rise of the function that will be averaged; with the density's own 2 df it sets the
    step.

    Parameters
    ----------
    df : (m,) or scalar, positive, possibly infinite

    Returns
    -------
    nodes, weights : each (m, n); the weights of a row sum to 1.
    """
    nu = np.atleast_1d(np.asarray(df, dtype=float))[:, None]
    if not np.all(nu > 0):
        raise ValueError("degrees of freedom must be positive")
    known = np.isinf(nu)
    nu = np.where(known, 1e12, nu)
    low = 0.5 * np.log(2.0 * gammaincinv(nu / 2, _TAIL) / nu)
    high = 0.5 * np.log(2.0 * gammaincinv(nu / 2, 1.0 - _TAIL) / nu)
    count = int(np.ceil(np.max((high - low) * np.sqrt(2.0 * nu + sharpness)))) + 1
    u = low + (high - low) * np.linspace(0.0, 1.0, max(count, 2))
    # The density of log S, up to a constant, written to keep its digits when df is huge.
    log_density = -0.5 * nu * (np.expm1(2.0 * u) - 2.0 * u)
    weights = np.exp(log_density - log_density.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    return np.where(known, 1.0, np.exp(u)), weights


# --- studentised range ------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _range_grid() -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """The parts of the range integral that do not depend on the number of entries."""
    z = np.arange(-8.0, 8.1, 0.2)
    w = np.arange(0.0, _RANGE_END + _RANGE_STEP / 2, _RANGE_STEP)[:, None]
    between = np.maximum(ndtr(z) - ndtr(z - w), 1e-300)
    inner = np.exp(-0.5 * (z - w) ** 2) / np.sqrt(2 * np.pi)
    outer = 0.2 * np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    return np.log(between), between, inner, (z - w) * inner, outer


@lru_cache(maxsize=64)
def _range_pieces(entries: int) -> Floats:
    """P(range of ``entries`` normal variates <= w) as quintic pieces (6, pieces) in w.

    R(w) = k integral phi(z) [Phi(z) - Phi(z - w)]^(k-1) dz (Hartley 1942, Biometrika 32:334), with
    its first two derivatives, joined by quintic Hermite pieces.
    """
    k = entries
    log_between, between, inner, inner_slope, outer = _range_grid()
    to_k_less_2 = np.exp((k - 2) * log_between)
    value = k * ((to_k_less_2 * between) @ outer)
    slope = k * (k - 1) * ((to_k_less_2 * inner) @ outer)
    bend = k * (k - 1) * ((to_k_less_2 * inner_slope) @ outer)
    if k > 2:
        to_k_less_3 = np.exp((k - 3) * log_between)
        bend += k * (k - 1) * (k - 2) * ((to_k_less_3 * inner**2) @ outer)
    value[0] = 0.0
    return _quintic_pieces(value, _RANGE_STEP * slope, _RANGE_STEP**2 * bend)


def _quintic_pieces(value: Floats, slope: Floats, bend: Floats) -> Floats:
    """Coefficients, by rising power, of the quintics with given values and two derivatives."""
    f0, f1 = value[:-1], value[1:]
    d0, d1 = slope[:-1], slope[1:]
    b0, b1 = bend[:-1], bend[1:]
    rise = f1 - f0
    return np.stack(
        [
            f0,
            d0,
            b0 / 2,
            10 * rise - 6 * d0 - 4 * d1 - 1.5 * b0 + 0.5 * b1,
            -15 * rise + 8 * d0 + 7 * d1 + 1.5 * b0 - b1,
            6 * rise - 3 * (d0 + d1) - 0.5 * (b0 - b1),
        ]
    )


def _range_normal(pieces: Floats, w: Floats) -> tuple[Floats, Floats]:
    """The range's probability and density at widths ``w``."""
    place = np.minimum(w / _RANGE_STEP, pieces.shape[1])
    piece = np.minimum(place.astype(np.intp), pieces.shape[1] - 1)
    x = place - piece
    c0, c1, c2, c3, c4, c5 = (row[piece] for row in pieces)
    value = c0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * c5))))
    slope = c1 + x * (2 * c2 + x * (3 * c3 + x * (4 * c4 + x * 5 * c5)))
    return value, slope / _RANGE_STEP


def _range_sharpness(entries: int) -> float:
    return 40.0 + 16.0 * float(np.log(entries))


def studentised_range_sf(q: ArrayLike, entries: int, df: ArrayLike) -> Floats:
    """P(Q > q) of the studentised range of ``entries`` independent means.

    ``q`` and ``df`` broadcast against one another. Absolute error below 1e-8; checked against
    ``scipy.stats.studentized_range`` and published tables.
    """
    q, df = np.broadcast_arrays(np.asarray(q, float), np.asarray(df, float))
    if entries == 2:  # one difference: Student's t
        return t_two_sided(q / np.sqrt(2.0), df)
    pieces = _range_pieces(_at_least_two(entries))
    distinct, which = np.unique(np.round(df.ravel(), 8), return_inverse=True)
    nodes, weights = chi_scale(distinct, _range_sharpness(entries))
    if len(distinct) == 1:
        inside = _range_normal(pieces, q.reshape(-1, 1) * nodes)[0] @ weights[0]
    else:
        values = _range_normal(pieces, q.reshape(-1, 1) * nodes[which])[0]
        inside = np.einsum("ij,ij->i", values, weights[which])
    return np.asarray(np.clip(1.0 - inside, 0.0, 1.0).reshape(q.shape))


def studentised_range_quantile(alpha: float, entries: int, df: ArrayLike) -> Floats:
    """The q with P(Q > q) = ``alpha``, for each of ``df``.

    Newton's method on log P against log q, from Bonferroni's bound: the curve is concave there,
    so that the steps come down to the root from one side.
    """
    df = np.asarray(df, float)
    if entries == 2:
        return np.asarray(np.sqrt(2.0) * t_quantile(1.0 - alpha / 2.0, df))
    pieces = _range_pieces(_at_least_two(entries))
    distinct, which = np.unique(np.round(df.ravel(), 8), return_inverse=True)
    nodes, weights = chi_scale(distinct, _range_sharpness(entries))
    q = np.sqrt(2.0) * t_quantile(1.0 - alpha / (entries * (entries - 1)), distinct)
    for _ in range(40):
        value, slope = _range_normal(pieces, q[:, None] * nodes)
        outside = np.maximum(1.0 - np.einsum("ij,ij->i", value, weights), 1e-300)
        density = np.einsum("ij,ij->i", slope, weights * nodes)
        step = np.log(outside / alpha) * outside / (q * np.maximum(density, 1e-300))
        q = q * np.exp(np.clip(step, -0.7, 0.7))
        if np.max(np.abs(step)) < 1e-10:
            break
    return np.asarray(q[which].reshape(df.shape))


def _at_least_two(entries: int) -> int:
    if entries < 2:
        raise ValueError("a range needs at least two entries")
    return entries
