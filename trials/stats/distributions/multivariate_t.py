"""The largest of several correlated t statistics that share one estimate of error.

Differences from a common entry nearly always have correlations of the form ``l_i l_j``: they are
independent given one common factor (Dunnett 1955, JASA 50:1096, section 3). What a layout adds
to that form (missing plots, incomplete blocks) is small and enters by the first two orders of
its Taylor series, whose terms follow from Plackett's identity (1954, Biometrika 41:351). Where
that is not enough, a fixed lattice integrates over the few factors that tie the statistics
together (``hidden_factors``). Nothing is drawn at random: the same question has the same answer
on every machine.

Formula: P(all |T_i| <= t) = average over s and z of the product over i of P(|l_i z + sqrt(1 - l_i²)
    e_i| <= t s).
Limits: The error is below 1e-8 for correlations l_i l_j, and below 1e-4 for any others.
Source: Dunnett 1955, JASA 50:1096, section 3; Plackett 1954, Biometrika 41:351.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from trials.stats.design.table import Floats
from trials.stats.distributions.chebyshev import cardinal, chebyshev, crossing, through_nodes
from trials.stats.distributions.factor_model import HiddenFactors
from trials.stats.distributions.quadrature import chi_scale, t_quantile

_FACTOR_END = 7.5  # a normal variate exceeds it with probability 6e-14
_TRUSTED_ORDER = 2e-3  # a last order of this size leaves an error near 1e-4
_SERIES_REACH = 0.1  # larger excess correlations are beyond it
_PRODUCT_END = 9.0  # standard deviations beyond which nothing is left
_NARROWEST, _WIDEST = -5.0, 6.0  # widths beyond which no excess is left to speak of
_MOST_MOVES = 20  # two are the rule
_CLOSE = np.array([0.97, 0.985, 1.0, 1.015, 1.03])
_BELOW_BOUND = np.array([0.79, 0.85, 0.91, 0.96, 1.01])
_LOADINGS = 9
_NEGLIGIBLE = 1e-9  # correlations this close to the product form are of that form
_ROOT_2PI = float(np.sqrt(2 * np.pi))


@dataclass(frozen=True, slots=True, eq=False)
class FactorCorrelation:
    """A correlation matrix as ``l_i l_j`` plus what is left over.

    ``loadings`` (k,) lie strictly between -1 and 1. ``excess`` (k, k) has a zero diagonal, and is
    None where the product form is exact.
    """

    loadings: Floats
    excess: Floats | None

    @property
    def matrix(self) -> Floats:
        """The whole correlation matrix (k, k)."""
        whole = np.outer(self.loadings, self.loadings)
        if self.excess is not None:
            whole += self.excess
        np.fill_diagonal(whole, 1.0)
        return whole

    @classmethod
    def of(cls, correlation: Floats) -> FactorCorrelation:
        """Split a correlation matrix (k, k) by least squares on the logarithms.

        Exact where the matrix has the form; otherwise the loadings are Hsu's factor-analytic
        approximation in spirit (1992, J. Comput. Graph. Stat. 1:151).
        """
        k = len(correlation)
        if k == 1:
            return cls(np.zeros(1), None)
        loadings = _loadings(correlation)
        excess = correlation - np.outer(loadings, loadings)
        np.fill_diagonal(excess, 0.0)
        if np.abs(excess).max() <= _NEGLIGIBLE:
            return cls(loadings, None)
        return cls(loadings, excess)


def _loadings(correlation: Floats) -> Floats:
    k = len(correlation)
    off = ~np.eye(k, dtype=bool)
    tied = (np.abs(correlation) > _NEGLIGIBLE) & off
    loadings = np.zeros(k)
    linked = np.flatnonzero(tied.any(axis=1))
    if len(linked) == 0:
        return loadings
    part = correlation[np.ix_(linked, linked)]
    sign = np.where(part[0] < 0, -1.0, 1.0)
    sign[0] = 1.0
    logs = np.log(np.maximum(np.abs(part), 1e-6))
    np.fill_diagonal(logs, 0.0)
    n = len(linked)
    if n == 2:
        size = np.full(2, np.exp(logs[0, 1] / 2))
    else:
        total = logs.sum() / (2 * (n - 1))
        size = np.exp((logs.sum(axis=1) - total) / (n - 2))
    loadings[linked] = sign * np.minimum(size, 1.0 - 1e-6)
    return loadings


def largest_t_cdf(
    t: ArrayLike, correlation: FactorCorrelation, df: ArrayLike, two_sided: bool
) -> Floats:
    """P(max |T_i| <= t) if ``two_sided``, else P(max T_i <= t), for each of ``t`` (m,).

    ``df`` is one number or one for each ``t``. The error is below 1e-8 where the correlation has
    the product form, near 1e-5 where the series carries a missing plot or resolvable incomplete
    blocks, and below 1e-4 where the lattice has to help (correlations as unequal as augmented
    blocks make them).
    """
    t = np.atleast_1d(np.asarray(t, float))
    product, excess = _parts(t, correlation, df, two_sided)
    return np.clip(product + excess, 0.0, 1.0)


def largest_t_quantile(
    alpha: float,
    correlation: FactorCorrelation,
    df: ArrayLike,
    two_sided: bool,
    near: float | None = None,
) -> Floats:
    """The t that the largest (absolute) statistic exceeds with probability ``alpha``, per ``df``.

    The product form's log probability is found at a few t around ``near`` or below Bonferroni's
    bound, and the root by inverse interpolation. What the excess correlations add is found at that
    root and held there, since it changes slowly with t and with ``df``; so is the root itself
    interpolated in 1 / df where there are many.
    """
    df = np.atleast_1d(np.asarray(df, float))
    tests = len(correlation.loadings) * (2 if two_sided else 1)
    if tests == 1:
        return t_quantile(1.0 - alpha, df)
    form = FactorCorrelation(correlation.loadings, None)

    def root(inverse: Floats) -> Floats:
        freedom = 1.0 / inverse
        start = t_quantile(1.0 - alpha / tests, freedom) if near is None else near + 0.0 * inverse
        at, tail = _tails_around(alpha, start, near is not None, form, freedom, two_sided)
        found = crossing(at, np.log(np.maximum(tail, 1e-300) / alpha))
        if correlation.excess is not None:
            _, excess = _parts(found, correlation, freedom, two_sided)
            found = crossing(at, np.log(np.maximum(tail - excess[:, None], 1e-300) / alpha))
        return found[None, :]

    return np.asarray(through_nodes(root, 1.0 / np.minimum(df, 1e12), nodes=5)[0])


def _tails_around(
    alpha: float,
    start: Floats,
    close: bool,
    form: FactorCorrelation,
    df: Floats,
    two_sided: bool,
) -> tuple[Floats, Floats]:
    """Values of t (d, n) around the root for each ``df`` (d,), and P(largest > t) at them."""
    steps = _CLOSE if close else _BELOW_BOUND
    middle = start
    for _ in range(_MOST_MOVES):
        at = middle[:, None] * steps
        inside = _parts(at.ravel(), form, np.repeat(df, len(steps)), two_sided)[0]
        tail = 1.0 - inside.reshape(at.shape)
        height = np.log(np.maximum(tail, 1e-300) / alpha)
        missed = (height[:, -1] > 0.0) | (height[:, 0] < 0.0)
        if not missed.any():
            break
        # Log tail against log t is all but straight: its chord leads next to the root.
        slope = (height[:, -1] - height[:, 0]) / np.log(steps[-1] / steps[0])
        onward = at[:, 2] * np.exp(np.clip(-height[:, 2] / slope, -0.3, 0.3))
        middle = np.where(missed, onward, crossing(at, height))
        steps = _CLOSE
    return at, tail


def _parts(
    t: Floats, correlation: FactorCorrelation, df: ArrayLike, two_sided: bool
) -> tuple[Floats, Floats]:
    """The probability under the product form, and what the excess correlations add to it."""
    nodes, weights = chi_scale(df, 40.0 + 12.0 * float(np.log(len(correlation.loadings))))
    widths = np.clip(t[:, None] * nodes, -_PRODUCT_END, _PRODUCT_END)
    from_zero = float(widths.min()) >= 0.0

    def averaged(normal: Floats) -> Floats:
        return np.asarray((normal.reshape(widths.shape) * weights).sum(axis=1))

    at, values = _product_curve(correlation.loadings.tobytes(), two_sided, from_zero)
    product = averaged(cardinal(at, widths.ravel()) @ values)
    if correlation.excess is None:
        return product, np.zeros(len(t))
    loadings, excess = correlation.loadings, correlation.excess

    def beyond_the_series() -> Floats:
        low = 0.0 if from_zero else _NARROWEST
        figures, lengths = (
            (np.round(part, 10) + 0.0).tobytes() for part in (correlation.matrix, loadings)
        )
        at, values = _far_excess(figures, lengths, two_sided, low)
        inner = np.clip(widths, low, _WIDEST).ravel()
        return averaged(cardinal(at, inner) @ values)

    if float(np.abs(excess).max()) > _SERIES_REACH:
        return product, beyond_the_series()
    at, curves = _series_curves(loadings.tobytes(), excess.tobytes(), two_sided, from_zero)
    added, last = (averaged(row) for row in curves @ cardinal(at, widths.ravel()).T)
    beyond = np.abs(last) > _TRUSTED_ORDER
    if beyond.any():
        added = np.where(beyond, beyond_the_series(), added)
    return product, added


def _widths(from_zero: bool, nodes_per_width: float) -> Floats:
    """The fixed nodes of a curve: what is asked with one threshold must not move another's."""
    low = 0.0 if from_zero else -_PRODUCT_END
    return chebyshev(low, _PRODUCT_END, 8 + int(nodes_per_width * (_PRODUCT_END - low)))


@lru_cache(maxsize=1024)
def _product_curve(lengths: bytes, two_sided: bool, from_zero: bool) -> tuple[Floats, Floats]:
    """The product form's probability at fixed nodes of the width; the loadings come as bytes.

    It is found once for all thresholds, degrees of freedom and measures of one layout. The
    functions of the width are bells and their sums, nowhere steeper than a deviation of 0.4.
    """
    at = _widths(from_zero, 6.2)
    return at, _product(at, np.frombuffer(lengths), two_sided)


@lru_cache(maxsize=256)
def _series_curves(
    lengths: bytes, figures: bytes, two_sided: bool, from_zero: bool
) -> tuple[Floats, Floats]:
    """The same of what the series adds (2, nodes): both orders, and the second alone."""
    loadings = np.frombuffer(lengths)
    at = _widths(from_zero, 3.5)
    return at, _series(at, loadings, np.frombuffer(figures).reshape(len(loadings), -1), two_sided)


@lru_cache(maxsize=64)
def _far_excess(
    figures: bytes, lengths: bytes, two_sided: bool, low: float
) -> tuple[Floats, Floats]:
    """What the excess correlations add at Chebyshev nodes of the width, from ``low`` up.

    A smooth and small function of the width, whatever the degrees of freedom: it is found once
    for all thresholds, and for all measures of one layout, whose correlations are the same. The
    correlation matrix and the loadings come as bytes.
    """
    loadings = np.frombuffer(lengths)
    at = chebyshev(low, _WIDEST, 8 + int(2.5 * (_WIDEST - low)))
    factors = HiddenFactors.of(np.frombuffer(figures).reshape(len(loadings), -1))
    return at, factors.inside(at, two_sided) - _product(at, loadings, two_sided)


def _factor_rule(loadings: Floats, coarser: float) -> tuple[Floats, Floats]:
    """Nodes and weights over the common factor: trapezoidal, as fine as the steepest loading."""
    steepness = float(np.max(np.abs(loadings) / np.sqrt(1.0 - loadings**2)))
    step = coarser / np.sqrt(1.0 + steepness**2 * (1.0 + np.log(len(loadings))))
    half = int(np.ceil(_FACTOR_END / step))
    z = step * np.arange(-half, half + 1)
    return z, step * np.exp(-0.5 * z**2) / _ROOT_2PI


def _product(w: Floats, loadings: Floats, two_sided: bool) -> Floats:
    """The probability for a known deviation at widths ``w`` under the product form."""
    z, density = _factor_rule(loadings, 1.0)
    log_inside = np.zeros((len(w), len(z)))
    for loading, count in zip(*_few_loadings(loadings), strict=True):
        inside = _one_inside(w, z, float(loading), two_sided)
        log_inside += count * np.log(np.maximum(inside, 1e-300))
    return np.asarray(np.exp(log_inside) @ density)


def _few_loadings(loadings: Floats) -> tuple[Floats, Floats]:
    """Loadings with multiplicities that give the same sum of log probabilities.

    Equal ones are counted together. Many that lie close are moved on to Chebyshev nodes, in
    between which the log probability is a polynomial for all that matters.
    """
    distinct, counts = np.unique(np.round(loadings, 12), return_counts=True)
    if len(distinct) <= _LOADINGS or distinct[-1] - distinct[0] > 0.4 or distinct[-1] > 0.95:
        return distinct, counts.astype(float)
    nodes = chebyshev(distinct[0], distinct[-1], _LOADINGS)
    return nodes, counts @ cardinal(nodes, distinct)


def _one_inside(w: Floats, z: Floats, loading: float, two_sided: bool) -> Floats:
    spread = np.sqrt(1.0 - loading**2)
    upper = ndtr((w[:, None] - loading * z) / spread)
    if not two_sided:
        return np.asarray(upper)
    return np.asarray(upper - ndtr((-w[:, None] - loading * z) / spread))


def _series(w: Floats, loadings: Floats, excess: Floats, two_sided: bool) -> Floats:
    """What two orders of the excess correlations add, above the second order alone (2, n).

    Given the common factor, the excess acts as exp(1/2 sum e_ij d_i d_j) on the product of the
    single probabilities, d_i being the derivative with respect to a shift of the i-th variate.
    """
    z, density = _factor_rule(loadings, 1.4)  # a small correction needs fewer digits
    spread = np.sqrt(1.0 - loadings**2)[:, None, None]
    shift = loadings[:, None, None] * z
    high = (w[:, None] - shift) / spread
    inside = ndtr(high)
    bell = np.exp(-0.5 * high**2) / _ROOT_2PI
    first, second = -bell, -high * bell
    if two_sided:
        low = (-w[:, None] - shift) / spread
        inside = inside - ndtr(low)
        bell = np.exp(-0.5 * low**2) / _ROOT_2PI
        first, second = first + bell, second + low * bell
    # Where one of the factors is as good as 0 so is the product, and its ratios mean nothing.
    lost = inside < 1e-30
    inside = np.where(lost, 1e-30, inside)
    shape = inside.shape[1:]
    a = np.where(lost, 0.0, first / (spread * inside)).reshape(len(loadings), -1)
    b = np.where(lost, 0.0, second / (spread**2 * inside)).reshape(len(loadings), -1)
    squares = excess**2
    pull = excess @ a
    one = 0.5 * (a * pull).sum(axis=0)
    two = one**2
    two += ((b - a**2) * (pull**2 - squares @ a**2)).sum(axis=0)
    two += 0.5 * (b * (squares @ b) - a**2 * (squares @ a**2)).sum(axis=0)
    product = np.exp(np.log(inside).sum(axis=0))
    orders = np.stack([one + 0.5 * two, 0.5 * two]).reshape(2, *shape)
    return np.asarray((product * orders) @ density)
