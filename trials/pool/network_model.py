"""Adjusted means of many trials under one mixed model, by equations that stay sparse.

The model of the second stage (Piepho, Möhring, Schulz-Streeck & Ogutu 2012, Biometrical Journal
54:844; Smith, Cullis & Gilmour 2001, Aust. N. Z. J. Statist. 43:129)::

    mean = trial + variety + variety x farm + variety x season + variety x trial + error

Trials and varieties are fixed, the interactions random, and the errors have each trial's full
covariance from the first stage. Farms meet only in the varieties and in variety x season: each
farm's own effects and trials are eliminated by themselves, and what is left are the equations of
the varieties and of variety x season, however many trials there are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from trials.errors import NotConverged
from trials.stats.design.table import Codes, Floats

FARM, SEASON, TRIAL = "variety × farm", "variety × season", "variety × trial"
_MOST_STEPS, _TOLERANCE = 60, 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class TrialMeans:
    """A trial's adjusted means (k,), their covariance (k, k) and its degrees of freedom.

    ``varieties`` (k,) are numbers of varieties of the network.
    """

    farm: str
    season: int
    varieties: Codes
    means: Floats
    cov: Floats
    df: float


@dataclass(frozen=True, slots=True, eq=False)
class Farm:
    """A farm's rows, its trials and seasons one after another, with the columns that they touch.

    ``columns`` (c,) are the network's equations, ``design`` (n, c) this farm's part of them;
    ``seasonal`` marks those of variety x season. ``own`` (n, v) tells the farm's varieties.
    """

    y: Floats
    error: Floats
    trials: Floats
    own: Floats
    columns: Codes
    design: Floats
    ends: Codes
    df: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _At:
    """The equations at given variances, all farms eliminated."""

    loglik: float
    inverse: Floats
    solution: Floats
    score: Floats
    information: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """The variances at the summit of the residual likelihood, and what is needed of the equations.

    ``variances`` (r,) belong to ``sources``; ``information`` (r, r) is their average information.
    ``effects`` (p,) are the varieties' (the first one's is 0) with ``cov`` (p, p).
    """

    model: NetworkModel
    sources: tuple[str, ...]
    variances: Floats
    information: Floats
    effects: Floats
    cov: Floats
    loglik: float

    def weights(self, contrasts: Floats) -> tuple[Floats, ...]:
        """The weight (n, m) of each farm's means in the contrasts (m, p) of varieties."""
        return self.model.weights(self.variances, contrasts)


class NetworkModel:
    """The means of a network of connected trials.

    Parameters
    ----------
    trials
        At least one; each with two varieties or more.
    varieties
        How many varieties there are; every one is in some trial.
    """

    def __init__(self, trials: Sequence[TrialMeans], varieties: int) -> None:
        self.varieties = varieties
        self.seasons = sorted({trial.season for trial in trials})
        farms = sorted({trial.farm for trial in trials})
        self.sources = _told_apart(trials, len(farms), len(self.seasons))
        self.farm_names = tuple(farms)
        self.farms = tuple(self._farm(members) for _, members in sorted(_by_farm(trials).items()))

    def _farm(self, trials: Sequence[TrialMeans]) -> Farm:
        sizes = [len(trial.means) for trial in trials]
        n, ends = sum(sizes), np.cumsum(sizes)
        rows = np.concatenate([trial.varieties for trial in trials])
        error = np.zeros((n, n))
        which = np.zeros((n, len(trials)))
        for i, trial in enumerate(trials):
            part = slice(ends[i] - sizes[i], ends[i])
            error[part, part] = trial.cov
            which[part, i] = 1.0
        kept, own = np.unique(rows, return_inverse=True)
        columns = [kept]
        design = [np.eye(len(kept))[own]]
        if SEASON in self.sources:
            season = np.repeat([self.seasons.index(trial.season) for trial in trials], sizes)
            equation = self.varieties * (1 + season) + rows
            there, place = np.unique(equation, return_inverse=True)
            columns.append(there)
            design.append(np.eye(len(there))[place])
        return Farm(
            np.concatenate([trial.means for trial in trials]),
            error,
            which,
            np.eye(len(kept))[own],
            np.concatenate(columns),
            np.hstack(design),
            ends,
            np.array([trial.df for trial in trials]),
        )

    @property
    def equations(self) -> int:
        seasons = len(self.seasons) if SEASON in self.sources else 0
        return self.varieties * (1 + seasons)

    def _eliminated(self, farm: Farm, variances: Floats) -> tuple[Floats, float]:
        """P of a farm, its trials' levels eliminated, and the logarithms of its determinants."""
        size = dict(zip(self.sources, variances.tolist(), strict=True))
        cov = farm.error + size.get(FARM, 0.0) * (farm.own @ farm.own.T)
        cov[np.diag_indices(len(cov))] += size.get(TRIAL, 0.0)
        factor = cho_factor(cov, lower=True)
        inverse = cho_solve(factor, np.eye(len(cov)))
        toward = inverse @ farm.trials
        inner = farm.trials.T @ toward
        p = inverse - toward @ np.linalg.solve(inner, toward.T)
        logs = 2.0 * float(np.log(np.diag(factor[0])).sum()) + float(np.linalg.slogdet(inner)[1])
        return (p + p.T) / 2.0, logs

    def _scale(self, variances: Floats) -> Floats:
        """What each equation is multiplied by: 1 for a variety, the deviation of the seasonal."""
        scale = np.ones(self.equations)
        if SEASON in self.sources:
            scale[self.varieties :] = np.sqrt(variances[self.sources.index(SEASON)])
        return scale

    def _solve(self, gathered: Floats, scale: Floats) -> tuple[Floats, float]:
        """The inverse of the equations (the first variety's effect is 0) and its determinant."""
        whole = gathered * np.outer(scale, scale)
        whole[np.arange(self.varieties, len(whole)), np.arange(self.varieties, len(whole))] += 1.0
        factor = cho_factor(whole[1:, 1:], lower=True)
        inverse = np.zeros_like(whole)
        inverse[1:, 1:] = cho_solve(factor, np.eye(len(whole) - 1))
        return inverse, 2.0 * float(np.log(np.diag(factor[0])).sum())

    def _at(self, variances: Floats) -> _At:
        """The likelihood, its slope and its average information at some variances."""
        size, scale = self.equations, self._scale(variances)
        gathered, right, square, logs = np.zeros((size, size)), np.zeros(size), 0.0, 0.0
        kept: list[Floats] = []
        for farm in self.farms:
            p, own_logs = self._eliminated(farm, variances)
            kept.append(p)
            py = p @ farm.y
            gathered[np.ix_(farm.columns, farm.columns)] += farm.design.T @ p @ farm.design
            right[farm.columns] += farm.design.T @ py
            square += float(farm.y @ py)
            logs += own_logs
        inverse, own_logs = self._solve(gathered, scale)
        scaled = inverse * np.outer(scale, scale)
        solution = scaled @ right
        loglik = -0.5 * (logs + own_logs + square - float(right @ solution))
        score, information = self._slopes(kept, gathered, scaled, solution)
        return _At(loglik, scaled, solution, score, information)

    def _slopes(
        self, kept: Sequence[Floats], gathered: Floats, scaled: Floats, solution: Floats
    ) -> tuple[Floats, Floats]:
        """The slope of the likelihood and the average information.

        Source: Gilmour, Thompson & Cullis 1995, Biometrics 51:1440.
        """
        r, size = len(self.sources), self.equations
        if r == 0:
            return np.zeros(0), np.zeros((0, 0))
        traces, squares = np.zeros(r), np.zeros(r)
        inside, toward = np.zeros((r, r)), np.zeros((r, size))
        seasonal = np.zeros(size)
        own: list[tuple[Floats, Floats]] = []
        for farm, p in zip(self.farms, kept, strict=True):
            pd = p @ farm.design
            residual = p @ (farm.y - farm.design @ solution[farm.columns])
            local = scaled[np.ix_(farm.columns, farm.columns)]
            for i, source in enumerate(self.sources):
                if source == TRIAL:
                    traces[i] += np.trace(p) - float((local * (pd.T @ pd)).sum())
                    squares[i] += float(residual @ residual)
                elif source == FARM:
                    through = farm.own.T @ pd
                    traces[i] += float(((p @ farm.own) * farm.own).sum())
                    traces[i] -= float((local * (through.T @ through)).sum())
                    squares[i] += float(((farm.own.T @ residual) ** 2).sum())
            seasonal[farm.columns] += farm.design.T @ residual
            own.append((pd, residual))
        seasonal[: self.varieties] = 0.0
        if SEASON in self.sources:
            at, late = self.sources.index(SEASON), slice(self.varieties, None)
            block = gathered[late]
            traces[at] = np.trace(gathered[late, late]) - float((block @ scaled * block).sum())
            squares[at] = float(seasonal @ seasonal)
        for farm, p, (pd, residual) in zip(self.farms, kept, own, strict=True):
            moved = np.stack(
                [self._moved(source, farm, residual, seasonal) for source in self.sources]
            )
            inside += moved @ p @ moved.T
            toward[:, farm.columns] += moved @ pd
        information = 0.5 * (inside - toward @ scaled @ toward.T)
        return 0.5 * (squares - traces), information

    def _moved(self, source: str, farm: Farm, residual: Floats, seasonal: Floats) -> Floats:
        """What a source makes of the residuals: K P y of this farm's rows."""
        if source == TRIAL:
            return residual
        if source == FARM:
            return np.asarray(farm.own @ (farm.own.T @ residual))
        return np.asarray(farm.design @ seasonal[farm.columns])

    def squares(self, source: str, farm: Farm, weights: Floats) -> Floats:
        """The squares w'Kw of a farm's rows (m,), w each of ``weights`` (n, m), K the source's."""
        if source == TRIAL:
            return np.asarray((weights**2).sum(axis=0))
        if source == FARM:
            return np.asarray(((farm.own.T @ weights) ** 2).sum(axis=0))
        return np.zeros(weights.shape[1])

    def seasonal_squares(self, source: str, seasonal: Floats) -> Floats:
        """The same of variety x season, whose weights (q, m) are summed over all farms."""
        return np.asarray((seasonal**2).sum(axis=0)) * (source == SEASON)

    def weights(self, variances: Floats, contrasts: Floats) -> tuple[Floats, ...]:
        """The weight (n, m) of each farm's means in the estimates of contrasts (m, p)."""
        gathered = np.zeros((self.equations,) * 2)
        kept = []
        for farm in self.farms:
            p, _ = self._eliminated(farm, variances)
            kept.append(p)
            gathered[np.ix_(farm.columns, farm.columns)] += farm.design.T @ p @ farm.design
        scale = self._scale(variances)
        inverse, _ = self._solve(gathered, scale)
        through = (inverse * np.outer(scale, scale))[:, : self.varieties] @ contrasts.T
        return tuple(
            np.asarray(p @ farm.design @ through[farm.columns])
            for farm, p in zip(self.farms, kept, strict=True)
        )

    def fitted(self) -> Fitted:
        """The summit of the residual likelihood, every variance at 0 or above.

        Raises
        ------
        NotConverged
            No summit was reached.
        """
        start = self._first_guess()
        variances, at = start, self._at(start)
        for _ in range(_MOST_STEPS):
            free = (variances > 0.0) | (at.score > 0.0)
            step = np.zeros(len(variances))
            if free.any():
                part = at.information[np.ix_(free, free)]
                ridge = 1e-10 * np.trace(part) * np.eye(len(part))
                step[free] = np.linalg.solve(part + ridge, at.score[free])
            move = np.maximum(variances + step, 0.0) - variances
            if np.abs(move).max(initial=0.0) <= _TOLERANCE * max(start.max(initial=0.0), 1e-300):
                return self._result(variances, at)
            for _ in range(30):
                tried = self._at(np.maximum(variances + move, 0.0))
                if tried.loglik >= at.loglik - 1e-10 * abs(at.loglik):
                    break
                move = move / 2.0
            else:
                return self._result(variances, at)
            variances, at = np.maximum(variances + move, 0.0), tried
        raise NotConverged(
            "The variation of varieties between farms and seasons could not be estimated. "
            "Leave out trials that share hardly any varieties."
        )

    def _first_guess(self) -> Floats:
        """A third of the varieties' variance within trials for each source."""
        spread = np.mean(
            [
                np.var(part)
                for farm in self.farms
                for part in np.split(farm.y, farm.ends[:-1].astype(int))
            ]
        )
        return np.full(len(self.sources), float(spread) / 3.0)

    def _result(self, variances: Floats, at: _At) -> Fitted:
        p = self.varieties
        return Fitted(
            self,
            self.sources,
            variances,
            at.information,
            at.solution[:p],
            at.inverse[:p, :p],
            at.loglik,
        )


def _by_farm(trials: Sequence[TrialMeans]) -> dict[str, list[TrialMeans]]:
    found: dict[str, list[TrialMeans]] = {}
    for trial in trials:
        found.setdefault(trial.farm, []).append(trial)
    return found


def _told_apart(trials: Sequence[TrialMeans], farms: int, seasons: int) -> tuple[str, ...]:
    """The interactions that these trials can tell apart, the finest always when there are two."""
    if len(trials) < 2:
        return ()
    found = []
    if 1 < farms < len(trials):
        found.append(FARM)
    if 1 < seasons < len(trials):
        found.append(SEASON)
    return (*found, TRIAL)
