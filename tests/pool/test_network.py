"""Trials taken together: against one mixed model of all plots, printed and by another library."""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from trials.pool.network import Network, _heterogeneity, together
from trials.pool.network_model import Fitted, NetworkModel, TrialMeans
from trials.stats.comparison import adjusted_means
from trials.stats.design.table import Floats, Labels, PlotTable, Question, Treatment

REFERENCE = Path(__file__).parents[1] / "reference" / "wheat_seven_years.json"


@pytest.fixture(scope="module")
def wheat() -> pd.DataFrame:
    told = json.loads(REFERENCE.read_text(encoding="utf-8"))
    return pd.DataFrame(told["rows"], columns=told["columns"])


def printed() -> dict[str, object]:
    return json.loads(REFERENCE.read_text(encoding="utf-8"))["printed"]  # type: ignore[no-any-return]


def first_stage(plots: pd.DataFrame, names: list[str]) -> list[TrialMeans]:
    found = []
    for year, of_year in plots.groupby("year"):
        table = PlotTable(
            "yield",
            "t/ha",
            of_year["yield"].to_numpy(),
            (Treatment(Labels.of("genotype", of_year["genotype"].tolist())),),
            tuple(map(str, range(len(of_year)))),
            block=Labels.of("block", of_year["block"].tolist()),
        )
        means = adjusted_means(table, Question(), "genotype")
        numbers = np.array([names.index(level) for level in means.levels])
        found.append(TrialMeans("farm", int(str(year)), numbers, means.means, means.cov, means.df))
    return found


@pytest.fixture(scope="module")
def network(wheat: pd.DataFrame) -> Network:
    names = sorted(wheat["genotype"].unique())
    return together("wheat", "yield", first_stage(wheat, names), names, common_error=True)


def test_two_stages_equal_the_printed_model_of_all_plots(network: Network) -> None:
    told = printed()
    (between,) = network.heterogeneity
    assert round(between.variance, 6) == told["year_genotype_variance"]
    means = pd.Series(told["means"])
    lead = means - means.mean()
    ours = pd.Series({each.variety: each.lead for each in network.varieties})
    np.testing.assert_allclose(ours, lead, atol=0.006)  # the means are printed to 0.01
    # F = sum of squared leads over (k - 1) x the variance of a mean within years.
    per_mean = network.cov[0, 0] / (1 - 1 / 8)
    F = float((ours**2).sum()) / 7 / per_mean
    assert round(F, 3) == round(float(told["F"]), 3)  # type: ignore[arg-type]


def test_two_stages_equal_another_library_on_all_plots(
    wheat: pd.DataFrame, network: Network
) -> None:
    """statsmodels' mixed model; years and blocks fixed, which balanced data allow."""
    wheat = wheat.assign(year_block=wheat["year"].astype(str) + wheat["block"], one=1)
    wheat["year_genotype"] = wheat["year"].astype(str) + wheat["genotype"]
    model = smf.mixedlm(
        "Q('yield') ~ C(genotype) + C(year_block)", wheat, groups=wheat["year_genotype"]
    )
    fit = model.fit(reml=True)
    np.testing.assert_allclose(
        network.heterogeneity[0].variance, float(fit.cov_re.iloc[0, 0]), rtol=1e-4
    )
    effects = fit.fe_params.filter(like="genotype")
    ours = [each.lead - network.varieties[0].lead for each in network.varieties[1:]]
    np.testing.assert_allclose(ours, effects, rtol=1e-6)


def test_one_trial_alone_says_what_the_farm_is_told(wheat: pd.DataFrame) -> None:
    names = sorted(wheat["genotype"].unique())
    (trial,) = first_stage(wheat[wheat["year"] == 1996], names)
    alone = together("wheat", "yield", [trial], names)
    centre = np.eye(8) - 1 / 8
    np.testing.assert_allclose([v.lead for v in alone.varieties], centre @ trial.means, rtol=1e-10)
    np.testing.assert_allclose(alone.cov, centre @ trial.cov @ centre, rtol=1e-8, atol=1e-12)
    np.testing.assert_allclose([v.df for v in alone.varieties], trial.df)
    assert alone.varieties[0].new_low is None
    assert alone.heterogeneity == ()


def drawn(rng: np.random.Generator, farms: int = 6, seasons: int = 3) -> list[TrialMeans]:
    found = []
    by_farm, by_season = rng.normal(0, 0.6, (farms, 8)), rng.normal(0, 0.5, (seasons, 8))
    for farm, season in product(range(farms), range(seasons)):
        grown = np.sort(rng.choice(8, 5, replace=False))
        root = rng.normal(size=(5, 9))
        cov = root @ root.T / 60
        means = 10 + 0.3 * grown + by_farm[farm, grown] + by_season[season, grown]
        means += rng.normal(0, 0.4, 5) + rng.multivariate_normal(np.zeros(5), cov)
        found.append(TrialMeans(f"F{farm}", 2020 + season, grown, means, cov, 20.0))
    return found


def dense(trials: list[TrialMeans], variances: Floats) -> tuple[float, Floats, Floats]:
    """The residual likelihood and effects by whole matrices, as its definition says."""
    y = np.concatenate([t.means for t in trials])
    n, ends = len(y), np.cumsum([len(t.means) for t in trials])
    variety = np.concatenate([t.varieties for t in trials])
    farm = np.concatenate([np.full(len(t.means), int(t.farm[1:])) for t in trials])
    season = np.concatenate([np.full(len(t.means), t.season) for t in trials])
    trial = np.concatenate([np.full(len(t.means), i) for i, t in enumerate(trials)])
    same = variety[:, None] == variety
    V = variances[2] * (same & (trial[:, None] == trial)).astype(float)
    V += variances[0] * (same & (farm[:, None] == farm))
    V += variances[1] * (same & (season[:, None] == season))
    for t, end in zip(trials, ends, strict=True):
        V[end - len(t.means) : end, end - len(t.means) : end] += t.cov
    X = np.hstack([np.eye(8)[variety][:, 1:], np.eye(len(trials))[trial]])
    inverse = np.linalg.inv(V)
    inner = X.T @ inverse @ X
    effects = np.linalg.solve(inner, X.T @ inverse @ y)
    rest = y - X @ effects
    logs = np.linalg.slogdet(V)[1] + np.linalg.slogdet(inner)[1]
    assert n == len(rest)
    return -0.5 * float(logs + rest @ inverse @ rest), effects[:7], np.linalg.inv(inner)[:7, :7]


def test_sparse_equations_equal_whole_matrices() -> None:
    trials = drawn(np.random.default_rng(5))
    fitted = NetworkModel(trials, 8).fitted()
    _, effects, cov = dense(trials, fitted.variances)
    np.testing.assert_allclose(fitted.effects[1:], effects, rtol=1e-8)
    np.testing.assert_allclose(fitted.cov[1:, 1:], cov, rtol=1e-7)
    best = dense(trials, fitted.variances)[0]
    for i, factor in product(range(3), (0.98, 1.02)):
        moved = fitted.variances.copy()
        moved[i] *= factor
        assert dense(trials, moved)[0] <= best + 1e-9


def test_weights_give_the_leads_back() -> None:
    trials = drawn(np.random.default_rng(6))
    found = together("aster", "stems", trials, [f"V{i}" for i in range(8)])
    centre = np.eye(8) - 1 / 8
    weights = found.fitted.weights(centre)
    ours = sum(w.T @ farm.y for w, farm in zip(weights, found.fitted.model.farms, strict=True))
    np.testing.assert_allclose(ours, [v.lead for v in found.varieties], rtol=1e-8)


def test_varieties_that_nothing_joins_are_named() -> None:
    rng = np.random.default_rng(7)
    trials = drawn(rng)
    lonely = TrialMeans("F9", 2020, np.array([8, 9]), np.array([3.0, 4.0]), np.eye(2), 10.0)
    found = together("aster", "stems", [*trials, lonely], [f"V{i}" for i in range(10)])
    assert found.apart == ("V8", "V9")
    assert len(found.varieties) == 8


def test_order_and_units_do_not_matter() -> None:
    trials = drawn(np.random.default_rng(8))
    names = [f"V{i}" for i in range(8)]
    one = together("aster", "stems", trials, names)
    other = together(
        "aster",
        "stems",
        [
            TrialMeans(t.farm, t.season, t.varieties, 10 * t.means + 3, 100 * t.cov, t.df)
            for t in reversed(trials)
        ],
        names,
    )
    for a, b in zip(one.varieties, other.varieties, strict=True):
        np.testing.assert_allclose([10 * a.lead, 10 * a.low], [b.lead, b.low], rtol=1e-5)
        assert a.new_high is not None
        assert b.new_high is not None
        assert b.new_high == pytest.approx(10 * a.new_high, rel=1e-5)


def test_a_variance_that_is_hardly_known_has_no_limits() -> None:
    """Its chi-squared has so few degrees of freedom that its quantiles are lost in rounding."""
    fitted = SimpleNamespace(sources=("variety × farm",), variances=np.array([1e-4]))
    (found,) = _heterogeneity(cast(Fitted, fitted), np.array([[4e-3]]), 0.05)
    assert (found.low, found.high) == (None, None)
