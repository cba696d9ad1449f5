"""What many farms' trials say together of each variety, and what a new farm may expect of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import gammaincinv

from trials.errors import ComparisonRefused
from trials.pool.error_variances import moderated, own_error, with_common_error
from trials.pool.network_model import Fitted, NetworkModel, TrialMeans
from trials.stats.design.table import Floats
from trials.stats.distributions.quadrature import t_quantile

_HARDLY = 1e-9  # a limit this many times the other is none: so few farms bound nothing


@dataclass(frozen=True, slots=True)
class Heterogeneity:
    """A variance between farms, seasons or trials, with its interval; None where it is not known.

    The last one of a network is their sum: how much a variety's lead differs from trial to trial.
    """

    source: str
    variance: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class AcrossFarms:
    """A variety over the network: its lead over the mean of all varieties of the network.

    ``low`` to ``high`` hold the mean lead over farms like these; ``new_low`` to ``new_high`` the
    lead at one new farm in a new season (None where only one trial was pooled). ``narrower`` is
    the share by which one more trial of it, at another farm, would narrow the limits of the mean.
    """

    variety: str
    farms: int
    trials: int
    lead: float
    se: float
    df: float
    low: float
    high: float
    new_low: float | None
    new_high: float | None
    narrower: float


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """The varieties of a network, best lead first as they come, and how they vary between farms.

    ``apart`` are varieties that share no trial with these, even through others: they cannot be
    compared with them. ``cov`` (v, v) is the covariance of the leads. ``fitted`` has the weights of
    every farm's means in them.
    """

    crop: str
    measure: str
    farms: int
    seasons: int
    trials: int
    varieties: tuple[AcrossFarms, ...]
    heterogeneity: tuple[Heterogeneity, ...]
    apart: tuple[str, ...]
    cov: Floats
    fitted: Fitted


def together(
    crop: str,
    measure: str,
    trials: Sequence[TrialMeans],
    names: Sequence[str],
    alpha: float = 0.05,
    *,
    common_error: bool = False,
) -> Network:
    """Take the trials of a crop and measure together.

    ``varieties`` of the trials number ``names``. With ``common_error`` all trials share one error
    variance, which makes the two stages equal one model of all plots; without it each trial's is
    moved towards what all of them say, by what they tell.

    Limits follow Satterthwaite: the variance of a lead is a function of the variances between
    farms, known by their information, and of each trial's error with its degrees of freedom.

    Raises
    ------
    ComparisonRefused
        There is no trial.
    NotConverged
        The variances could not be estimated.
    """
    if not trials:
        raise ComparisonRefused(
            f"No trial of {crop} has means of {measure} that can be compared. "
            "Choose another measure."
        )
    kept, apart = _connected(trials, len(names))
    place = np.full(len(names), -1)
    place[kept] = np.arange(len(kept))
    inside = [
        replace(t, varieties=place[t.varieties]) for t in trials if place[t.varieties[0]] >= 0
    ]
    inside = with_common_error(inside) if common_error else moderated(inside)
    fitted = NetworkModel(inside, len(kept)).fitted()
    centre = np.eye(len(kept)) - 1.0 / len(kept)
    leads, cov = centre @ fitted.effects, centre @ fitted.cov @ centre
    variance = np.maximum(np.diag(cov), 0.0)
    slopes, error = _slopes(fitted, centre)
    spread = _covariance(fitted)
    sampling = error + np.einsum("ri,rs,si->i", slopes, spread, slopes)
    df = 2.0 * variance**2 / np.maximum(sampling, 1e-300)
    reach = t_quantile(1 - alpha / 2, df) * np.sqrt(variance)
    share = 1.0 - 1.0 / len(kept)
    ahead = variance + share * fitted.variances.sum()
    further = slopes + share
    sampling = error + np.einsum("ri,rs,si->i", further, spread, further)
    new_df = 2.0 * ahead**2 / np.maximum(sampling, 1e-300)
    new_reach = t_quantile(1 - alpha / 2, new_df) * np.sqrt(ahead)
    grown = [[t for t in inside if v in t.varieties] for v in range(len(kept))]
    several = len(inside) > 1
    # One more trial of it tells about its lead with the variance between trials and a trial's own.
    once = float(np.mean([own_error(t) for t in inside])) + float(fitted.variances.sum())
    narrower = 1.0 - np.sqrt(once / (once + variance))
    return Network(
        crop,
        measure,
        len({t.farm for t in inside}),
        len({t.season for t in inside}),
        len(inside),
        tuple(
            AcrossFarms(
                names[kept[v]],
                len({t.farm for t in grown[v]}),
                len(grown[v]),
                float(leads[v]),
                float(np.sqrt(variance[v])),
                float(df[v]),
                float(leads[v] - reach[v]),
                float(leads[v] + reach[v]),
                float(leads[v] - new_reach[v]) if several else None,
                float(leads[v] + new_reach[v]) if several else None,
                float(narrower[v]),
            )
            for v in range(len(kept))
        ),
        _heterogeneity(fitted, spread, alpha),
        tuple(names[v] for v in apart),
        cov,
        fitted,
    )


def _connected(trials: Sequence[TrialMeans], count: int) -> tuple[list[int], list[int]]:
    """The varieties of the largest set that trials join, and those outside it."""
    leader = list(range(count))

    def top(v: int) -> int:
        while leader[v] != v:
            leader[v] = leader[leader[v]]
            v = leader[v]
        return v

    for trial in trials:
        first, *rest = trial.varieties.tolist()
        for other in rest:
            leader[top(other)] = top(first)
    seen = sorted({int(v) for trial in trials for v in trial.varieties})
    sets: dict[int, list[int]] = {}
    for v in seen:
        sets.setdefault(top(v), []).append(v)
    largest = max(sets.values(), key=len)
    return largest, [v for v in seen if v not in set(largest)]


def _slopes(fitted: Fitted, contrasts: Floats) -> tuple[Floats, Floats]:
    """How the variance of each contrast follows the variances (r, m), and what errors add (m,).

    The second is the sampling variance that the trials' own errors have by their degrees of
    freedom. With weights w of the means in an estimate its variance is w'Vw, which grows by w'Kw
    with a variance whose matrix is K (w being best, its own change adds nothing).
    """
    weights = fitted.weights(contrasts)
    slopes = np.zeros((len(fitted.sources), len(contrasts)))
    error = np.zeros(len(contrasts))
    seasonal = np.zeros((fitted.model.equations, len(contrasts)))
    for farm, w in zip(fitted.model.farms, weights, strict=True):
        for i, source in enumerate(fitted.sources):
            slopes[i] += fitted.model.squares(source, farm, w)
        seasonal[farm.columns] += farm.design.T @ w
        starts = [0, *farm.ends[:-1].tolist()]
        for start, end, df in zip(starts, farm.ends.tolist(), farm.df.tolist(), strict=True):
            part = w[start:end]
            share = np.einsum("im,ij,jm->m", part, farm.error[start:end, start:end], part)
            error += 2.0 * share**2 / df
    late = seasonal[fitted.model.varieties :]
    for i, source in enumerate(fitted.sources):
        slopes[i] += fitted.model.seasonal_squares(source, late)
    return slopes, error


def _covariance(fitted: Fitted) -> Floats:
    """The sampling covariance of the variances; a variance at 0 counts as known."""
    found = np.zeros((len(fitted.sources),) * 2)
    free = fitted.variances > 0.0
    if free.any():
        found[np.ix_(free, free)] = np.linalg.inv(fitted.information[np.ix_(free, free)])
    return found


def _heterogeneity(fitted: Fitted, spread: Floats, alpha: float) -> tuple[Heterogeneity, ...]:
    """Each variance and their sum, with limits from the chi-squared that has their moments."""
    found = []
    parts = [*zip(fitted.sources, np.eye(len(fitted.sources)), strict=True)]
    if len(parts) > 1:
        parts.append(("all together", np.ones(len(fitted.sources))))
    for source, part in parts:
        variance = float(part @ fitted.variances)
        sampling = float(part @ spread @ part)
        if variance <= 0.0 or sampling <= 0.0:
            found.append(Heterogeneity(source, variance, None, None))
            continue
        df = 2.0 * variance**2 / sampling
        upper, lower = (2.0 * float(gammaincinv(df / 2, q)) for q in (alpha / 2, 1 - alpha / 2))
        if lower <= 0.0:  # so little is known of it that both limits are lost in rounding
            found.append(Heterogeneity(source, variance, None, None))
            continue
        high = df * variance / upper if upper > _HARDLY * lower else None
        found.append(Heterogeneity(source, variance, df * variance / lower, high))
    return tuple(found)
