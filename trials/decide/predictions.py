"""What each entry is worth, taken as one of a sample of entries: means shrunk by what they tell.

The model of the second stage (Piepho, Möhring, Melchinger & Büchse 2008, Euphytica 161:209;
Smith, Cullis & Thompson 2005, J. Agric. Sci. 143:449), with each trial's covariance S_t from its
own analysis:

    mean of entry i in trial t = level_t + g_i + h_it + e_it,
    g_i ~ N(0, entry SD²),  h_it ~ N(0, season SD²),  e_t ~ N(0, s_t S_t),

levels flat, entries named as fixed flat too, and s_t, the error variance over its estimate, as the
trial's degrees of freedom f leave it: f / chi-square on f. The two SDs are integrated over their
posterior by quadrature, never plugged in, because a few seasons say little about either
(Gelman 2006, Bayesian Analysis 1:515, whose half-t prior the entry SD takes).

Formula: the model above; a figure is its mean over the posterior of the two SDs.
Limits: The priors of the SDs are judgement (`spreads`); with one season they carry much of the
    weight.
Source: Piepho, Möhring, Melchinger & Büchse 2008, Euphytica 161:209; Smith, Cullis & Thompson 2005;
    Gelman 2006, Bayesian Analysis 1:515.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trials.decide.draws import Deviates
from trials.decide.spreads import Axis, SDs, SpreadPrior, around, precision_nodes
from trials.decide.two_stage import StackedSeasons

Floats = NDArray[np.float64]
Places = NDArray[np.int_]
_LogDensity = Callable[[Floats], Floats]

ENTRY_NODES = 24
SEASON_NODES = 20
SCALE_NODES = {1: 16, 2: 6, 3: 3, 4: 2}  # for each trial, by how many trials there are
MANY_DF = 20.0  # from here on fewer nodes do
FEW_NODES = {1: 5, 2: 3, 3: 2, 4: 2}
MOST_FLOATS = 1_000_000  # worked on at once
MOST_SCALED = 4  # beyond so many trials the errors are taken at their estimates
NEGLIGIBLE = 18.0  # log units below the top: what lies lower adds less than 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """What the entries are worth over seasons, as a mixture of normals over the two SDs.

    ``mean`` and ``sd`` (k,) follow ``entries``: level over the trials' seasons plus the entry's
    own worth. ``entry_sd`` and ``season_sd`` are posterior means, ``season_low`` and
    ``season_high`` the middle 95 % of the season SD. ``draws`` gives joint draws.
    """

    entries: tuple[str, ...]
    mean: Floats
    sd: Floats
    entry_sd: float
    season_sd: float
    season_low: float
    season_high: float
    _mixture: _Mixture = field(repr=False)

    def draws(self, count: int, deviates: Deviates) -> tuple[Floats, Floats]:
        """Joint draws (count, k) of the entries' worth, and of their value next season.

        The second adds to the first what another season does to each entry; the general level of
        that season is in neither.
        """
        return self._mixture.draws(count, deviates)


def predict(
    stacked: StackedSeasons,
    *,
    usual: float,
    fixed: frozenset[str] = frozenset(),
    prior: SpreadPrior | None = None,
    others: Sequence[tuple[StackedSeasons, float]] = (),
    sds: SDs | None = None,
) -> Prediction:
    """The entries' worth from the adjusted means of the seasons so far.

    Parameters
    ----------
    stacked
        The means and covariances of the trials.
    usual
        The size that the measure usually has on this farm, in its unit: what the prior's shares
        are shares of. Positive.
    fixed
        Entries that are no sample of entries (checks): they are not shrunk.
    prior
        What is thought of the two SDs beforehand.
    others
        The farm's other trials, each with its own usual size. They share the season SD, as a
        share of the usual size, and nothing else.
    sds
        The two SDs, where they are given and not integrated over.

    Returns
    -------
    Prediction
    """
    if not usual > 0:
        raise ValueError(f"a usual size is positive, not {usual!r}")
    prior = prior or SpreadPrior()
    model = _Model(stacked, fixed)
    if sds is not None:
        return model.given(sds)
    told = [(_Model(other, frozenset()), size) for other, size in others]

    def log_season(sd: Floats) -> Floats:
        found = prior.log_season(sd, usual)
        for other, size in told:
            found = found + other.log_of_season(sd / usual * size, prior, size)
        return found

    return model.integrate(prior, usual, log_season)


@dataclass(frozen=True, slots=True, eq=False)
class _Swept:
    """The likelihood's parts at (J) pairs of a season SD and the errors' scales."""

    season_sd: Floats  # (J,)
    constant: Floats  # (J,) what does not depend on the entry SD
    p: Floats  # (J, r) eigenvalues of the information on the random entries
    vectors: Floats  # (J, r, r)
    q: Floats  # (J, r) rotated scores
    level: Floats  # (J, c) flat coefficients with g at zero
    given: Floats  # (J, c, r) how they move with g
    cov: Floats  # (J, c, c) covariance given g

    def log_likelihood(self, entry_sd: Floats) -> Floats:
        """(J, G) at each pair and each entry SD."""
        variance = entry_sd[None, :, None] ** 2
        grown = 1.0 + variance * self.p[:, None, :]
        gain = variance * self.q[:, None, :] ** 2 / grown
        return np.asarray(self.constant[:, None] + 0.5 * (gain - np.log(grown)).sum(axis=2))


class _Model:
    """The stacked means, rotated trial by trial so that their errors are independent."""

    def __init__(self, stacked: StackedSeasons, fixed: frozenset[str]) -> None:
        self.entries = stacked.entries
        self.random = np.array([i for i, e in enumerate(self.entries) if e not in fixed], dtype=int)
        if self.random.size < 2:  # one entry alone is no sample
            self.random = np.arange(len(self.entries))
        self.flat = np.setdiff1d(np.arange(len(self.entries)), self.random)
        trials = len(stacked.seasons)
        levels = np.eye(trials)[stacked.season_of]
        shares = np.eye(len(self.entries))[stacked.entry_of]
        self.trial_of = stacked.season_of
        self.trials = trials
        self.df = np.array([season.df for season in stacked.seasons], dtype=np.float64)
        self.roots = np.empty(stacked.y.size)
        turned = np.column_stack([levels, shares[:, self.flat], shares[:, self.random], stacked.y])
        for t in range(trials):
            rows = np.flatnonzero(stacked.season_of == t)
            roots, vectors = np.linalg.eigh(stacked.cov[np.ix_(rows, rows)])
            self.roots[rows] = roots
            turned[rows] = vectors.T @ turned[rows]
        c = trials + self.flat.size
        self.x, self.z, self.y = turned[:, :c], turned[:, c:-1], turned[:, -1]
        # Of the means as they came: where errors are alike, eigenvectors turn with any rounding.
        self.largest = float(np.abs(stacked.y).max())

    def scales(self) -> tuple[Floats, Floats]:
        """Nodes (M, trials) of the errors' scales, and the log of their weights (M,)."""
        count, few = SCALE_NODES.get(self.trials, 1), FEW_NODES.get(self.trials, 1)
        known = np.isinf(self.df)
        if self.trials > MOST_SCALED or known.all():
            return np.ones((1, self.trials)), np.zeros(1)
        nodes = [
            (np.ones(1), np.ones(1))
            if np.isinf(df)
            else precision_nodes(float(df), few if df >= MANY_DF else count)
            for df in self.df
        ]
        grid = np.meshgrid(*(at for at, _ in nodes), indexing="ij")
        weights = np.meshgrid(*(w for _, w in nodes), indexing="ij")
        at = np.column_stack([g.ravel() for g in grid])
        return 1.0 / at, np.log(np.prod([w.ravel() for w in weights], axis=0))

    def sweep(self, season_sd: Floats, scales: Floats) -> _Swept:
        """At the paired season SDs (J,) and scales (J, trials)."""
        variance = scales[:, self.trial_of] * self.roots + season_sd[:, None] ** 2
        d = 1.0 / variance
        dx, dz = d[:, :, None] * self.x, d[:, :, None] * self.z
        xx, xz, xy = self.x.T @ dx, self.x.T @ dz, d * self.y @ self.x
        zx = np.swapaxes(xz, 1, 2)
        cov = np.linalg.inv(xx)
        level = np.einsum("jab,jb->ja", cov, xy)
        given = cov @ xz
        information = self.z.T @ dz - zx @ given
        score = d * self.y @ self.z - np.einsum("jra,ja->jr", zx, level)
        left = (d * self.y**2).sum(axis=1) - np.einsum("ja,ja->j", xy, level)
        p, vectors = np.linalg.eigh(information)
        constant = -0.5 * (np.log(variance).sum(axis=1) + np.linalg.slogdet(xx)[1] + left)
        return _Swept(
            season_sd=season_sd,
            constant=constant,
            p=np.maximum(p, 0.0),
            vectors=vectors,
            q=np.einsum("jrs,jr->js", vectors, score),
            level=level,
            given=given,
            cov=cov,
        )

    def log_of_season(self, season_sd: Floats, prior: SpreadPrior, usual: float) -> Floats:
        """The log likelihood (J,) of season SDs, the entry SD integrated, errors as estimated."""
        swept = self.sweep(season_sd, np.ones((season_sd.size, self.trials)))
        axis = Axis(0.0, 12.0 * prior.entry_share * usual, prior.entry_share * usual, ENTRY_NODES)
        heights = swept.log_likelihood(axis.sd) + prior.log_entry(axis.sd, usual) + axis.log_weight
        return np.asarray(np.logaddexp.reduce(heights, axis=1))

    def integrate(self, prior: SpreadPrior, usual: float, log_season: _LogDensity) -> Prediction:
        units = prior.entry_share * usual, prior.season_share * usual
        entry, season = self._axes(prior, usual, log_season, units)
        scales, log_scale = self.scales()
        swept = self.sweep(np.repeat(season.sd, len(scales)), np.tile(scales, (season.sd.size, 1)))
        heights = (
            swept.log_likelihood(entry.sd)
            + (prior.log_entry(entry.sd, usual) + entry.log_weight)[None, :]
            + np.repeat(log_season(season.sd) + season.log_weight, len(scales))[:, None]
            + np.tile(log_scale, season.sd.size)[:, None]
        )
        return self._prediction(swept, heights, entry.sd, season.sd)

    def given(self, sds: SDs) -> Prediction:
        """The same where the SDs are known."""
        scales, log_scale = self.scales()
        swept = self.sweep(np.full(len(scales), sds.season), scales)
        entry, season = np.array([sds.entry]), np.array([sds.season])
        heights = swept.log_likelihood(entry) + log_scale[:, None]
        return self._prediction(swept, heights, entry, season)

    def _prediction(
        self, swept: _Swept, heights: Floats, entry_sd: Floats, season_sd: Floats
    ) -> Prediction:
        weights = np.exp(heights - heights.max())
        mixture = _Mixture(self, swept, entry_sd, weights / weights.sum())
        mean, sd = mixture.moments()
        by_season = mixture.weights.sum(axis=1).reshape(season_sd.size, -1).sum(axis=1)
        reached = np.cumsum(by_season) - by_season / 2
        low, high = np.interp([0.025, 0.975], reached, season_sd)
        return Prediction(
            entries=self.entries,
            mean=mean,
            sd=sd,
            entry_sd=float(mixture.weights.sum(axis=0) @ entry_sd),
            season_sd=float(by_season @ season_sd),
            season_low=float(low),
            season_high=float(high),
            _mixture=mixture,
        )

    def _axes(
        self,
        prior: SpreadPrior,
        usual: float,
        log_season: _LogDensity,
        units: tuple[float, float],
    ) -> tuple[Axis, Axis]:
        """Nodes where the posterior is, found on a wide and coarse grid of both SDs."""
        reach = self.largest + usual
        wide = [Axis(0.0, max(reach, 12 * unit), unit, 40) for unit in units]
        swept = self.sweep(wide[1].sd, np.ones((40, self.trials)))
        heights = (
            swept.log_likelihood(wide[0].sd)
            + prior.log_entry(wide[0].sd, usual)[None, :]
            + log_season(wide[1].sd)[:, None]
        )
        near = heights > heights.max() - NEGLIGIBLE
        return (
            around(wide[0].sd, near.any(axis=0), units[0], ENTRY_NODES),
            around(wide[1].sd, near.any(axis=1), units[1], SEASON_NODES),
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Mixture:
    """Normals, one for each node of the quadrature, and how likely each is."""

    model: _Model
    swept: _Swept
    entry_sd: Floats
    weights: Floats  # (J, G)

    def _worth(self, flat: Floats, g: Floats) -> Floats:
        """(…, k): the mean level plus each entry's own, from coefficients (…, c) and (…, r)."""
        trials = self.model.trials
        level = flat[..., :trials].mean(axis=-1, keepdims=True)
        worth = np.empty((*g.shape[:-1], len(self.model.entries)))
        worth[..., self.model.random] = level + g
        worth[..., self.model.flat] = level + flat[..., trials:]
        return worth

    def _given(self, nodes: Places, sd: Floats) -> tuple[Floats, Floats]:
        """At nodes (n,) and entry SDs (n, …): variances (n, …, r) and means of the rotated g."""
        p, q = self.swept.p[nodes], self.swept.q[nodes]
        p, q = (part.reshape(len(nodes), *(1,) * (sd.ndim - 1), -1) for part in (p, q))
        v = sd[..., None] ** 2 / (1 + sd[..., None] ** 2 * p)
        return v, v * q

    def moments(self) -> tuple[Floats, Floats]:
        """Mean and SD (k,) of the mixture."""
        model = self.model
        k, r, trials = len(model.entries), model.random.size, model.trials
        first, second = np.zeros(k), np.zeros(k)
        to_flat = np.zeros((k, self.swept.level.shape[1]))
        to_flat[:, :trials] = 1.0 / trials
        to_flat[model.flat, trials + np.arange(model.flat.size)] = 1.0
        likely = np.flatnonzero(self.weights.sum(axis=1) > 1e-12)
        for nodes in _parts(likely, self.entry_sd.size * k + r * (r + k)):
            vectors, given = self.swept.vectors[nodes], self.swept.given[nodes]
            v, rotated = self._given(nodes, np.tile(self.entry_sd, (len(nodes), 1)))
            g = rotated @ np.swapaxes(vectors, 1, 2)
            worth = self._worth(self.swept.level[nodes, None] - g @ np.swapaxes(given, 1, 2), g)
            turn = -to_flat @ given  # what g does to the worth through the levels
            turn[:, model.random, np.arange(r)] += 1.0
            turn = turn @ vectors
            levels = np.einsum("ka,jab,kb->jk", to_flat, self.swept.cov[nodes], to_flat)
            spread = v @ np.swapaxes(turn**2, 1, 2) + levels[:, None, :]
            first += np.einsum("jg,jgk->k", self.weights[nodes], worth)
            second += np.einsum("jg,jgk->k", self.weights[nodes], worth**2 + spread)
        return first, np.sqrt(np.maximum(second - first**2, 0.0))

    def draws(self, count: int, deviates: Deviates) -> tuple[Floats, Floats]:
        """Each node gets its share of the draws; half of them are the others' mirror images."""
        model, swept = self.model, self.swept
        half = (count + 1) // 2
        reached = np.cumsum(self.weights.ravel())
        places = np.searchsorted(reached / reached[-1], (np.arange(half) + 0.5) / half)
        node, entry = np.divmod(places, self.entry_sd.size)
        z = deviates.normal(half, model.random.size)
        e = deviates.normal(half, swept.level.shape[1])
        later = deviates.normal(half, len(model.entries)) * swept.season_sd[node][:, None]
        worth = np.empty((2, half, len(model.entries)))
        for some in _parts(np.arange(half), model.random.size**2 + model.x.shape[1] ** 2):
            nodes = node[some]
            v, rotated = self._given(nodes, self.entry_sd[entry[some]])
            moved = np.sqrt(v) * z[some]
            root = np.linalg.cholesky(swept.cov[nodes])
            shift = np.einsum("nab,nb->na", root, e[some])
            for i, sign in enumerate((1.0, -1.0)):
                g = np.einsum("nrs,ns->nr", swept.vectors[nodes], rotated + sign * moved)
                flat = swept.level[nodes] - np.einsum("nar,nr->na", swept.given[nodes], g)
                worth[i, some] = self._worth(flat + sign * shift, g)
        mirrored = np.vstack([later, -later])
        worths = worth.reshape(2 * half, -1)
        return worths[:count], (worths + mirrored)[:count]


def _parts(places: Places, floats: int) -> Iterator[Places]:
    """The places in parts whose arrays of so many floats a place stay within the cache."""
    size = max(MOST_FLOATS // floats, 1)
    return (places[start : start + size] for start in range(0, len(places), size))
