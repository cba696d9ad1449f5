"""Whether a verdict stands up: checks of the residuals, and verdicts that hang on one plot."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.special import fdtrc, ndtr, ndtri

from trials.stats.distributions import t_two_sided
from trials.stats.model import Fit
from trials.stats.results import Check, FragileVerdict, OutlyingPlot, Solid
from trials.stats.table import Codes, Floats

DOUBT = 0.05  # a check with a smaller p-value raises a doubt


def residual_checks(fit: Fit, levels: Codes, plots: Sequence[str]) -> Solid:
    """The three checks of a fit's residuals.

    ``levels`` (n,) is the treatment each plot carried, over which the spread is compared;
    ``plots`` (n,) are the plots' names. The other parts of the ``Solid`` are left empty.
    """
    # A plot that the model fits exactly (an entry grown once) has no residual to judge by.
    free = fit.residuals[fit.leverage < 1 - 1e-9]
    return Solid(
        normality=normality(free) if fit.residual_df >= 3 else None,
        equal_spread=equal_spread(fit.residuals, levels),
        outliers=outlying_plots(
            fit.residuals, fit.leverage, fit.residual_df, fit.residual_variance, plots
        ),
    )


def normality(residuals: Floats) -> Check | None:
    """Shapiro and Wilk's W of the residuals (n,), with Royston's p-value.

    None below 4 plots, beyond 5,000, or where all residuals are equal. Residuals of a fitted
    model are a little more normal than the errors behind them, so that this check is lenient.

    Source: Royston 1995, Applied Statistics 44:547 (algorithm AS R94). Checked against
    ``scipy.stats.shapiro``.
    """
    n = len(residuals)
    x = np.sort(residuals)
    centred = x - x.mean()
    total = float(centred @ centred)
    if not 4 <= n <= 5000 or total <= 1e-24 * max(float(x @ x), 1e-300):
        return None
    scores = ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    length = float(scores @ scores)
    u = 1.0 / np.sqrt(n)
    last = np.polyval([-2.706056, 4.434685, -2.071190, -0.147981, 0.221157, 0.0], u)
    weights = scores.copy()
    weights[-1] = last + scores[-1] / np.sqrt(length)
    if n > 5:
        next_last = np.polyval([-3.582633, 5.682633, -1.752461, -0.293762, 0.042981, 0.0], u)
        weights[-2] = next_last + scores[-2] / np.sqrt(length)
    fixed = 2 if n > 5 else 1
    left = 1.0 - 2.0 * float(weights[-fixed:] @ weights[-fixed:])
    rest = length - 2.0 * float(scores[-fixed:] @ scores[-fixed:])
    weights[fixed:-fixed] = scores[fixed:-fixed] / np.sqrt(rest / left)
    weights[:fixed] = -weights[-1 : -fixed - 1 : -1]
    w = min(float(weights @ x) ** 2 / total, 1.0)
    p = _shapiro_p(w, n)
    return Check(w, p, p >= DOUBT)


def _shapiro_p(w: float, n: int) -> float:
    if w >= 1.0:
        return 1.0
    shortfall = float(np.log1p(-w))
    if n <= 11:
        most = 0.459 * n - 2.273
        if shortfall >= most:
            return 0.0
        shortfall = -float(np.log(most - shortfall))
        mean = np.polyval([-0.0006714, 0.025054, -0.39978, 0.5440], n)
        log_sd = np.polyval([-0.0020322, 0.062767, -0.77857, 1.3822], n)
    else:
        mean = np.polyval([0.0038915, -0.083751, -0.31082, -1.5861], np.log(n))
        log_sd = np.polyval([0.0030302, -0.082676, -0.4803], np.log(n))
    return float(ndtr((mean - shortfall) / np.exp(log_sd)))


def equal_spread(residuals: Floats, levels: Codes) -> Check | None:
    """Brown and Forsythe's F of the distances from each level's median.

    Levels with fewer than 3 plots say nothing of their spread and are left out; None where fewer
    than two levels are left, or all distances agree.

    Source: Brown & Forsythe 1974, J. Amer. Statist. Assoc. 69:364. Checked against
    ``scipy.stats.levene(center="median")``.
    """
    groups = [residuals[levels == level] for level in np.unique(levels)]
    distances = [np.abs(g - np.median(g)) for g in groups if len(g) >= 3]
    if len(distances) < 2:
        return None
    sizes = np.array([len(d) for d in distances])
    means = np.array([d.mean() for d in distances])
    grand = float(sizes @ means) / sizes.sum()
    num_df, den_df = len(sizes) - 1, int(sizes.sum()) - len(sizes)
    within = sum(float(((d - m) ** 2).sum()) for d, m in zip(distances, means, strict=True))
    if within <= 1e-24 * max(float(residuals @ residuals), 1e-300):
        return None
    F = float(sizes @ (means - grand) ** 2) / num_df / (within / den_df)
    p = float(fdtrc(num_df, den_df, F))
    return Check(F, p, p >= DOUBT)


def outlying_plots(
    residuals: Floats, leverage: Floats, df: float, variance: float, plots: Sequence[str]
) -> tuple[OutlyingPlot, ...]:
    """Plots whose externally studentised residual is too large for luck among so many.

    The p-value is Bonferroni's over all plots, at most ``DOUBT``; the most outlying comes first.
    Empty where the error has fewer than 2 degrees of freedom: there is then none left to judge a
    plot by the others.

    Source: Cook & Weisberg 1982, Residuals and Influence in Regression, section 2.2.2.
    """
    if df < 2 or variance <= 0:
        return ()
    free = np.maximum(1.0 - leverage, 0.0)
    judged = free > 1e-8  # a plot that is fitted exactly cannot stand out
    internal = np.where(judged, residuals / np.sqrt(variance * np.where(judged, free, 1.0)), 0.0)
    others = np.maximum(df - internal**2, 1e-12 * df)
    studentised = internal * np.sqrt((df - 1.0) / others)
    p = np.minimum(t_two_sided(studentised, df - 1.0) * np.count_nonzero(judged), 1.0)
    worst_first = np.argsort(p, kind="stable")
    return tuple(
        OutlyingPlot(plots[i], float(residuals[i]), float(studentised[i]), float(p[i]))
        for i in worst_first
        if p[i] <= DOUBT
    )


# --- verdicts that hang on one plot -----------------------------------------------------------


def p_without_each(fit: Fit, weights: Floats, contrasts: Floats) -> Floats:
    """The p-value (n,) of a joint test when each plot in turn is left out of a least squares fit.

    Found from the one fit, without fitting again; NaN where the plot is the only one that
    carries its cell or block, so that without it there is nothing to test.

    Parameters
    ----------
    weights : (n, c) each plot's weight in each adjusted mean
    contrasts : (m, c) estimable contrasts of the means; rows may be redundant

    Source: Cook & Weisberg 1982, Residuals and Influence in Regression, appendix A.2.
    """
    _, size, right = np.linalg.svd(np.atleast_2d(contrasts), full_matrices=False)
    rows = right[: int(np.count_nonzero(size > 1e-9 * size[0]))]
    q = len(rows)
    free = 1.0 - fit.leverage
    judged = free > 1e-8
    free = np.where(judged, free, 1.0)
    by_plot = weights @ rows.T
    inverse = np.linalg.inv(by_plot.T @ by_plot)
    moved = rows @ fit.means - by_plot * (fit.residuals / free)[:, None]
    pushed = by_plot @ inverse
    whole = np.einsum("ij,jk,ik->i", moved, inverse, moved)
    along = np.einsum("ij,ij->i", pushed, moved)
    own = np.einsum("ij,ij->i", pushed, by_plot)
    lost = free + own
    hypothesis = np.maximum(whole - along**2 / lost, 0.0)
    df = fit.residual_df - 1.0
    error = fit.residual_variance * fit.residual_df - fit.residuals**2 / free
    if df < 1:
        return np.full(len(free), np.nan)
    F = hypothesis / q / np.maximum(error / df, 1e-300)
    return np.where(judged, fdtrc(q, df, F), np.nan)


def p_by_refitting(plots: int, refit: Callable[[Codes], Sequence[float | None]]) -> Floats:
    """The same for any kind of fit: (plots, terms) from fitting again without each plot.

    ``refit`` takes the rows to keep and returns the p-value of each term, None where it cannot
    be tested any more.
    """
    found = [refit(np.delete(np.arange(plots), i)) for i in range(plots)]
    return np.array([[np.nan if p is None else p for p in row] for row in found], dtype=float)


def fragile(
    terms: Sequence[tuple[str, float]], without: Floats, plots: Sequence[str], alpha: float
) -> tuple[FragileVerdict, ...]:
    """Verdicts that turn when one plot is left out.

    ``terms`` are (term, p-value) of the whole trial; ``without`` (n, terms) the p-values without
    each plot, NaN where there is none. For each term the plot that moves it farthest comes first.
    """
    found: list[FragileVerdict] = []
    for (term, p), column in zip(terms, without.T, strict=True):
        turned = np.isfinite(column) & ((column <= alpha) != (p <= alpha))
        farthest = np.argsort(-np.abs(np.nan_to_num(column, nan=p) - p), kind="stable")
        found += [FragileVerdict(term, plots[i], float(column[i])) for i in farthest if turned[i]]
    return tuple(found)
