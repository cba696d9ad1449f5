"""Adjusted means of several seasons put together, entries and seasons side by side.

A two-stage analysis (Piepho, Möhring, Schulz-Streeck & Ogutu 2012, Biometrical Journal 54:844):
each season's adjusted means come with their covariance, which the second stage takes as known,

    mean of entry v in season s = season s + entry v + what s did to v + error,

with seasons and entries fixed, what seasons did independent with one variance, and errors
correlated as the season's own analysis says.

Formula: mean = season + entry + what the season did to it + error, weighted by the inverse of
    (swing² I + S_s).
Limits: The seasons' own covariances S_s count as known; seasons must be joined by shared entries.
Source: Piepho, Möhring, Schulz-Streeck & Ogutu 2012, Biometrical Journal 54:844.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trials.errors import ComparisonRefused

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class SeasonMeans:
    """One trial's adjusted means of one measure, as its own season's analysis gives them.

    ``means`` (k,) and their covariance ``cov`` (k, k) follow ``entries``; ``df`` are the degrees
    of freedom behind the covariance (infinite where it is known).
    """

    season: int
    trial: str
    entries: tuple[str, ...]
    means: Floats
    cov: Floats
    df: float

    def __post_init__(self) -> None:
        k = len(self.entries)
        if len(set(self.entries)) != k or self.means.shape != (k,) or self.cov.shape != (k, k):
            raise ValueError(
                f"{self.trial}: {k} entries need as many means and a square covariance"
            )
        if not self.df >= 2:
            raise ComparisonRefused(
                f"Trial {self.trial}: its means have fewer than 2 degrees of freedom, too few to "
                "choose by. Grow it again with more plots."
            )
        if not (np.isfinite(self.means).all() and _is_covariance(self.cov)):
            raise ComparisonRefused(
                f"Trial {self.trial}: the error of some of its means cannot be estimated. "
                "Choose without those entries. The trial's comparison says why."
            )


def _is_covariance(cov: Floats) -> bool:
    return bool(np.isfinite(cov).all() and np.linalg.eigvalsh(cov).min() > 0)


@dataclass(frozen=True, slots=True, eq=False)
class Combined:
    """Entry means over seasons under one value of the season-to-season SD.

    ``means`` (k,) are taken over equally weighted seasons and equal ``weights @ y``; ``weights``
    (k, n) follow the stacked season means. ``season_effects`` (s,) sum to zero, with their
    covariance ``season_cov``.
    """

    means: Floats
    weights: Floats
    season_effects: Floats
    season_cov: Floats


class StackedSeasons:
    """The season means of every trial, one under the other, in an order of our own.

    Trials are sorted by season and code and entries by name, so that nothing depends on the order
    in which a caller lists them. Refused: entries that no chain of shared entries connects.
    """

    def __init__(self, seasons: Sequence[SeasonMeans]) -> None:
        if not seasons:
            raise ComparisonRefused("There is no closed trial to choose from.")
        self.seasons = tuple(
            sorted((_sorted(s) for s in seasons), key=lambda s: (s.season, s.trial))
        )
        self.entries = tuple(sorted({entry for s in seasons for entry in s.entries}))
        require_joined(self.seasons)
        place = {entry: i for i, entry in enumerate(self.entries)}
        self.y = np.concatenate([s.means for s in self.seasons])
        self.season_of = np.repeat(
            np.arange(len(self.seasons)), [len(s.entries) for s in self.seasons]
        )
        self.entry_of = np.array([place[entry] for s in self.seasons for entry in s.entries])
        self.cov = np.zeros((self.y.size, self.y.size))
        for i, season in enumerate(self.seasons):
            rows = np.flatnonzero(self.season_of == i)
            self.cov[np.ix_(rows, rows)] = season.cov
        self.design = self._design()

    def _design(self) -> Floats:
        """Entries in full, seasons as deviations that sum to zero: (n, k + s - 1), of full rank."""
        s = len(self.seasons)
        entries = np.eye(len(self.entries))[self.entry_of]
        deviations = np.vstack([np.eye(s - 1), -np.ones((1, s - 1))])
        return np.hstack([entries, deviations[self.season_of]])

    def combine(self, season_sd: float) -> Combined:
        """Generalised least squares with the season-to-season SD given."""
        k = len(self.entries)
        inverse = np.linalg.inv(self.cov + season_sd**2 * np.eye(self.y.size))
        information = self.design.T @ inverse @ self.design
        weights = np.linalg.solve(information, self.design.T @ inverse)
        coefficients = weights @ self.y
        s = len(self.seasons)
        sums = np.vstack([np.eye(s - 1), -np.ones((1, s - 1))])
        return Combined(
            means=coefficients[:k],
            weights=np.asarray(weights[:k]),
            season_effects=sums @ coefficients[k:],
            season_cov=sums @ np.linalg.inv(information)[k:, k:] @ sums.T,
        )

    def season_variance(self, season_sd: float) -> float | None:
        """Variance of the seasons' general level by moments; None with a single trial.

        The spread of the estimated season effects less what their own errors contribute, and 0
        where that is less than nothing.
        """
        s = len(self.seasons)
        if s < 2:
            return None
        combined = self.combine(season_sd)
        excess = (combined.season_effects**2).sum() - np.trace(combined.season_cov)
        return max(float(excess) / (s - 1), 0.0)


def _sorted(season: SeasonMeans) -> SeasonMeans:
    order = np.array(sorted(range(len(season.entries)), key=lambda i: season.entries[i]))
    return SeasonMeans(
        season.season,
        season.trial,
        tuple(season.entries[i] for i in order),
        season.means[order],
        season.cov[np.ix_(order, order)],
        season.df,
    )


def require_joined(seasons: Sequence[SeasonMeans]) -> None:
    """Refuse seasons whose entries no chain of shared entries connects."""
    groups: list[set[str]] = []
    for season in seasons:
        joined = set(season.entries)
        apart = []
        for group in groups:
            if group & joined:
                joined |= group
            else:
                apart.append(group)
        groups = [*apart, joined]
    if len(groups) > 1:
        names = " | ".join(", ".join(sorted(group)) for group in groups)
        raise ComparisonRefused(
            f"These groups share no season and no variety that links them: {names}. "
            "Choose within each group, or grow the check with both next season."
        )
