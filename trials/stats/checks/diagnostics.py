"""Whether a verdict stands up: checks of the residuals, and verdicts that hang on one plot.

Formula: W = (sum a_i r_(i))² / sum r_i²; F of |y - median of its level|; t = r sqrt((f - 1) / (f -
    r²)), f the error's degrees of freedom and r in standard errors.
Limits: A check can raise a doubt and prove nothing; with few plots it sees large departures only.
Source: Royston 1995, Applied Statistics 44:547; Brown & Forsythe 1974, JASA 69:364; Cook & Weisberg
    1982, Residuals and Influence in Regression, section 2.2.2.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import fdtrc

from trials.stats.design.linear_model import Fit
from trials.stats.design.table import Codes, Floats
from trials.stats.distributions.quadrature import t_two_sided
from trials.stats.what_was_tested import Check, Diagnostic, FragileVerdict, OutlyingPlot, Solid

DOUBT = 0.05  # a check with a smaller p-value raises a doubt
NO_JOINT_TEST = "no treatment has a joint test"


def residual_checks(
    fit: Fit, levels: Codes, plots: Sequence[str], blocked: Floats | None = None
) -> Solid:
    """The three checks of a fit's residuals.

    ``levels`` (n,) is the treatment each plot carried, over which the spread is compared;
    ``plots`` (n,) are the plots' names. ``blocked`` (n, r) spans the columns of a least squares
    fit with fixed blocks, rows or columns, None for every other fit. Of the other parts only
    ``made`` and ``not_made`` are filled, with these three checks.
    """
    # A plot that the model fits exactly (an entry grown once) has no residual to judge by.
    free = fit.residuals[fit.leverage < 1 - 1e-9]
    solid = Solid(
        normality=normality(free) if fit.residual_df >= 3 else None,
        equal_spread=equal_spread(fit.residuals, levels)
        if blocked is None
        else equal_spread_in_blocks(fit.residuals, blocked, levels),
        outliers=outlying_plots(
            fit.residuals, fit.leverage, fit.residual_df, fit.residual_variance, plots
        ),
    )
    judged = fit.residual_df >= 2 and fit.residual_variance > 0
    solid = with_check(solid, Diagnostic.NORMALITY, _lacks_normality(solid, fit.residual_df))
    solid = with_check(
        solid,
        Diagnostic.EQUAL_VARIANCES,
        "" if solid.equal_spread is not None else _lacks_spread(blocked),
    )
    return with_check(
        solid, Diagnostic.OUTLYING_PLOTS, "" if judged else "it needs 2 degrees of freedom of error"
    )


def with_check(solid: Solid, name: Diagnostic, lacks: str) -> Solid:
    """The same with a check among those made, or with what it ``lacks`` among those not made."""
    if lacks:
        return replace(solid, not_made=(*solid.not_made, (name, lacks)))
    return replace(solid, made=(*solid.made, name))


def _lacks_normality(solid: Solid, df: float) -> str:
    if solid.normality is not None:
        return ""
    if df < 3:
        return "it needs 3 degrees of freedom of error"
    return "it needs 4 to 5,000 plots whose residuals are not all the same"


def _lacks_spread(blocked: Floats | None) -> str:
    needed = "two treatments" if blocked is None else "three treatments in blocks"
    return f"it needs {needed} with 3 plots each"


def normality(residuals: Floats) -> Check | None:
    """Shapiro and Wilk's W of the residuals (n,), with Royston's p-value, by ``scipy.stats``.

    None below 4 plots, beyond 5,000, or where all residuals are equal. Residuals of a fitted
    model are a little more normal than the errors behind them, so that this check is lenient.

    Source: Royston 1995, Applied Statistics 44:547 (algorithm AS R94).
    """
    from scipy.stats import shapiro

    if not 4 <= len(residuals) <= 5000 or _all_alike(residuals):
        return None
    statistic, p = shapiro(residuals)
    return Check(float(statistic), float(p), bool(p >= DOUBT))


def _all_alike(x: Floats) -> bool:
    centred = x - x.mean()
    return float(centred @ centred) <= 1e-24 * max(float(x @ x), 1e-300)


def equal_spread(residuals: Floats, levels: Codes) -> Check | None:
    """Brown and Forsythe's F of the distances from each level's median, by ``scipy.stats``.

    Levels with fewer than 3 plots say nothing of their spread and are left out; None where fewer
    than two levels are left, or all distances agree.

    Source: Brown & Forsythe 1974, J. Amer. Statist. Assoc. 69:364.
    """
    from scipy.stats import levene

    groups = [residuals[levels == level] for level in np.unique(levels)]
    groups = [group for group in groups if len(group) >= 3]
    distances = [np.abs(group - np.median(group)) for group in groups]
    within = sum(float(((d - d.mean()) ** 2).sum()) for d in distances)
    if len(groups) < 2 or within <= 1e-24 * max(float(residuals @ residuals), 1e-300):
        return None
    statistic, p = levene(*groups, center="median")
    return Check(float(statistic), float(p), bool(p >= DOUBT))


def equal_spread_in_blocks(residuals: Floats, space: Floats, levels: Codes) -> Check | None:
    """The largest F of one level's share of the residual sum of squares against the others' rest.

    A noisy plot moves its block's mean and so the residuals of every plot beside it: distances of
    residuals hardly tell a noisy level from a quiet one. The sum of squares that is left without
    the plots of one level does not know that level at all. What those plots add to it, over the
    degrees of freedom they add, is compared with it: an exact F test for each level, of whether it
    varies more than the others. The p-value is Bonferroni's over the levels.

    Parameters
    ----------
    residuals : (n,) of a least squares fit
    space : (n, r) orthonormal basis of the columns that were fitted
    levels : (n,) treatment of each plot; levels with fewer than 3 plots are not tested

    Returns None where fewer than two levels can be tested, as with two levels in complete blocks:
    their residuals are mirror images.

    Simulated with 10,000 trials of 3 to 6 levels in 3 to 8 complete blocks at 0.05: false alarms
    4.7 to 5.7 in 100 (Brown and Forsythe: 0 to 6.1), also with Poisson counts about 20; one level
    with 5 times the standard deviation was found 23 to 99 times in 100 (0 to 82). Errors with
    heavier tails than normal raise false alarms (Student's t on 5 df: 5 to 17).

    Source: Shukla 1972, Heredity 29:237, for two-way tables; Chow 1960, Econometrica 28:591, for
    leaving out a part of the plots of any linear model. Checked against statsmodels' fits.
    """
    names, sizes = np.unique(levels, return_counts=True)
    total, df = float(residuals @ residuals), residuals.size - space.shape[1]
    ratios, tails = [], []
    for level in names[sizes >= 3]:
        own = levels == level
        size, axes = np.linalg.eigh(np.eye(int(own.sum())) - space[own] @ space[own].T)
        seen = size > 1e-9
        added = float(((residuals[own] @ axes[:, seen]) ** 2 / size[seen]).sum())
        num_df = int(seen.sum())
        den_df = df - num_df
        if num_df and den_df > 0:
            rest = max(total - added, 1e-12 * total)
            ratios.append(added / num_df / (rest / den_df))
            tails.append(float(fdtrc(num_df, den_df, ratios[-1])))
    if len(tails) < 2:
        return None
    p = min(len(tails) * min(tails), 1.0)
    return Check(max(ratios), p, p >= DOUBT)


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


def p_by_refitting(
    plots: int, left_out: Codes, refit: Callable[[Codes], Sequence[float | None]]
) -> Floats:
    """The same for any kind of fit: (a, terms) from fitting again without each ``left_out`` (a,).

    ``refit`` takes the rows to keep and returns the p-value of each term, None where it cannot
    be tested any more.
    """
    found = [refit(np.delete(np.arange(plots), i)) for i in left_out]
    p = [[np.nan if p is None else p for p in row] for row in found]
    return np.array(p, dtype=float).reshape(len(p), len(p[0]) if p else 0)


def lacks_without(without: Floats) -> str:
    """What stands in the way of leaving out single plots; '' where it was done for some plot.

    ``without`` (n, terms) are the p-values without each plot, NaN where there is none.
    """
    return "" if np.isfinite(without).any() else "with one plot fewer there is no error left"


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
