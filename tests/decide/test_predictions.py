from __future__ import annotations

import json
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from numpy.typing import NDArray
from scipy import linalg, stats

from trials.decide.draws import Deviates
from trials.decide.predictions import Prediction, predict
from trials.decide.spreads import SDs, SpreadPrior, precision_nodes
from trials.decide.two_stage import SeasonMeans, StackedSeasons

Floats = NDArray[np.float64]
USUAL = 14.0
REFERENCE = Path(__file__).parents[1] / "reference"
PRIOR = SpreadPrior()


def season(year: int, entries: str, means: list[float], variance: float, df: float) -> SeasonMeans:
    k = len(entries)
    cov = variance * (np.eye(k) + 0.2)  # a shared block error beside each entry's own
    return SeasonMeans(year, f"t{year}", tuple(entries), np.array(means), cov, df)


CHANGING = [
    season(2024, "abcd", [15.1, 12.0, 13.4, 17.2], 0.9, np.inf),
    season(2025, "bcde", [11.2, 13.9, 15.8, 14.1], 0.6, np.inf),
]


class Dense:
    """The same model written out in full: one covariance of everything, no rotation, no sweep."""

    def __init__(self, seasons: list[SeasonMeans], fixed: frozenset[str]) -> None:
        entries = sorted({e for s in seasons for e in s.entries})
        of = [(t, e) for t, s in enumerate(seasons) for e in s.entries]
        own = np.array([[float(e == name) for name in entries] for _, e in of])
        sampled = np.array([name not in fixed for name in entries])
        levels = np.array([[float(t == s) for s in range(len(seasons))] for t, _ in of])
        self.y = np.concatenate([s.means for s in seasons])
        self.blocks = [linalg.block_diag(*(s.cov * (s is t) for s in seasons)) for t in seasons]
        self.z = own[:, sampled]
        self.x = np.hstack([levels, own[:, ~sampled]])
        trials = len(seasons)
        self.of_flat = np.zeros((len(entries), self.x.shape[1]))
        self.of_flat[:, :trials] = 1 / trials
        self.of_flat[~sampled, trials:] = np.eye(int((~sampled).sum()))
        self.of_g = np.eye(len(entries))[:, sampled]

    def at(self, entry_sd: Floats, season_sd: Floats, scales: Floats) -> tuple[Floats, Floats]:
        """Log restricted likelihood (m,) and worths (m, k), by generalised least squares."""
        entry, season = entry_sd[:, None, None] ** 2, season_sd[:, None, None] ** 2
        errors = sum(scales[:, t, None, None] * block for t, block in enumerate(self.blocks))
        v = errors + season * np.eye(self.y.size) + entry * (self.z @ self.z.T)
        inverse = np.linalg.inv(v)
        information = self.x.T @ inverse @ self.x
        score = (self.x.T @ inverse @ self.y)[:, :, None]
        flat = np.linalg.solve(information, score)[:, :, 0]
        left = self.y - flat @ self.x.T
        log = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
        log = -0.5 * (log + np.einsum("mi,mij,mj->m", left, inverse, left))
        g = entry_sd[:, None] ** 2 * np.einsum("mij,mj->mi", inverse, left) @ self.z
        return log, flat @ self.of_flat.T + g @ self.of_g.T


def trapezoid(model: Dense, scale_points: Floats, fine: int = 2) -> Floats:
    """The worths with both SDs integrated: the trapezoidal rule on a fine grid of their logs.

    ``scale_points`` (s, trials) are equally likely scales of the errors.
    """
    entry_log, season_log = np.linspace(-8, 6, 110 * fine), np.linspace(-9, 2, 80 * fine)
    entry, season = (np.exp(g).ravel() for g in np.meshgrid(entry_log, season_log))
    prior = stats.t.pdf(entry / (PRIOR.entry_share * USUAL), 3)
    prior = prior * stats.norm.pdf(season / (PRIOR.season_share * USUAL)) * entry * season
    total, first = 0.0, np.zeros(len(model.of_flat))
    for point in scale_points:
        log, worth = model.at(entry, season, np.tile(point, (entry.size, 1)))
        density = prior * np.exp(log + 20.0)
        total += density.sum()
        first += density @ worth
    return first / total


@pytest.mark.parametrize("fixed", [frozenset(), frozenset("b")], ids=["sample", "check fixed"])
@pytest.mark.parametrize("seasons", [CHANGING[:1], CHANGING], ids=["one season", "two"])
def test_predictions_equal_independent_quadrature(
    seasons: list[SeasonMeans], fixed: frozenset[str]
) -> None:
    found = predict(StackedSeasons(seasons), usual=USUAL, fixed=fixed)
    expected = trapezoid(Dense(seasons, fixed), np.ones((1, len(seasons))))
    assert found.mean == pytest.approx(expected, abs=1e-4)


@pytest.mark.slow
def test_an_error_known_on_few_degrees_of_freedom_is_integrated_too() -> None:
    few = [season(2024, "abcd", [15.1, 12.0, 13.4, 17.2], 0.9, 6.0)]
    found = predict(StackedSeasons(few), usual=USUAL)
    # Equally likely scales by their quantiles: the midpoint rule over chi-square on 6 df.
    quantiles = stats.chi2.ppf((np.arange(100) + 0.5) / 100, 6) / 6
    expected = trapezoid(Dense(few, frozenset()), 1 / quantiles[:, None], fine=1)
    assert found.mean == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize("df", [2.0, 5.0, 33.0, 900.0])
def test_nodes_of_the_error_scale_have_the_moments_of_chi_square(df: float) -> None:
    at, weights = precision_nodes(df, 6)
    for power in range(8):
        moment = stats.chi2.moment(power, df) / df**power if power else 1.0
        assert weights @ at**power == pytest.approx(moment, rel=1e-8)


def test_draws_have_the_moments_of_the_prediction() -> None:
    found = predict(StackedSeasons(CHANGING), usual=USUAL, fixed=frozenset("b"))
    worth, later = found.draws(20_000, Deviates(5))
    assert worth.shape == later.shape == (20_000, 5)
    assert worth.mean(axis=0) == pytest.approx(found.mean, abs=0.02)
    assert worth.std(axis=0) == pytest.approx(found.sd, rel=0.03)
    assert (later.std(axis=0) > worth.std(axis=0)).all()
    again = predict(StackedSeasons(CHANGING), usual=USUAL, fixed=frozenset("b"))
    assert np.array_equal(again.draws(20_000, Deviates(5))[0], worth)


def distance(found: Prediction) -> Floats:
    return np.asarray(np.abs(found.mean - found.mean.mean()))


def test_other_trials_of_the_farm_speak_to_the_season_sd() -> None:
    here = [season(2025, "abcd", [15.1, 12.0, 13.4, 17.2], 0.3, np.inf)]
    quiet = [season(y, "pqrstu", [9, 10, 11, 12, 13, 14.0], 0.05, np.inf) for y in (2024, 2025)]
    wild = [
        season(2024, "pqrstu", [9, 10, 11, 12, 13, 14.0], 0.05, np.inf),
        season(2025, "pqrstu", [11, 9, 14, 10, 14, 11.0], 0.05, np.inf),
    ]
    alone, with_quiet, with_wild = (
        predict(StackedSeasons(here), usual=USUAL, others=others)
        for others in ([], [(StackedSeasons(quiet), 11.5)], [(StackedSeasons(wild), 11.5)])
    )
    assert with_quiet.season_sd < alone.season_sd < with_wild.season_sd
    # A season's part in what was seen is not the entry's own.
    assert (distance(with_quiet) > distance(with_wild)).all()


def test_a_check_that_is_no_sample_keeps_its_distance() -> None:
    one = [season(2025, "abcd", [10.0, 10.4, 9.8, 14.0], 0.9, np.inf)]
    shrunk = predict(StackedSeasons(one), usual=USUAL)
    kept = predict(StackedSeasons(one), usual=USUAL, fixed=frozenset("d"))
    assert shrunk.mean[3] < 13.5
    assert kept.mean[3] == pytest.approx(14.0, abs=1e-9)


def test_given_variances_predictions_are_those_of_a_mixed_model_library() -> None:
    """Ten varieties at six places in two years (Immer, Hayes & Powers 1934), against statsmodels.

    Each place and year is a trial; the library estimates the variances, and its own predictions at
    them are the expected ones.
    """
    text = (REFERENCE / "barley_places_years.json").read_text("utf-8")
    published = json.loads(text)
    frame = pd.DataFrame(published["rows"], columns=published["columns"])
    frame["trial"] = frame["place"] + frame["year"].astype(str)
    levels = pd.get_dummies(frame["trial"]).astype(float)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = sm.MixedLM(frame["yield"], levels, groups=frame["variety"]).fit(method="powell")
    entry, error = float(fitted.cov_re.iloc[0, 0]), float(fitted.scale)
    own = {name: float(effect.iloc[0]) for name, effect in fitted.random_effects.items()}

    seasons = [
        SeasonMeans(
            int(rows["year"].iloc[0]),
            str(trial),
            tuple(rows["variety"]),
            rows["yield"].to_numpy(),
            error / 3 * np.eye(len(rows)),
            np.inf,
        )
        for trial, rows in frame.groupby("trial")
    ]
    given = SDs(entry**0.5, (error * 2 / 3) ** 0.5)  # plots and interaction make up the residual
    found = predict(StackedSeasons(seasons), usual=35.0, sds=given)
    level = float(fitted.fe_params.mean())
    expected = [level + own[name] for name in found.entries]
    assert found.mean == pytest.approx(expected, rel=1e-6)
    assert 0.5 < np.std(found.mean) / np.std(frame.groupby("variety")["yield"].mean()) < 1
