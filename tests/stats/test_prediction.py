"""Predictions against published examples, the mixed model equations, and statsmodels."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from trials.errors import ComparisonRefused
from trials.stats.design.design_matrix import indicators
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Floats, Labels
from trials.stats.fit.prediction import Predictions, predictions, predictions_at

if TYPE_CHECKING:
    from tests.stats.conftest import Published


def grouping(name: str, values: list[str]) -> Grouping:
    labels = Labels.of(name, values)
    return Grouping(name, labels.codes, len(labels.levels))


def one_cell(y: Floats) -> Grouping:
    return Grouping("all", np.zeros(y.size, dtype=np.intp), 1)


def uneven() -> LinearModel:
    """Six entries, some met more often than others, in blocks that do not hold them all."""
    rng = np.random.default_rng(11)
    entry = rng.integers(0, 6, 40).astype(str).tolist()
    block = rng.integers(0, 4, 40).astype(str).tolist()
    row = rng.integers(0, 5, 40).astype(str).tolist()
    effect = rng.normal(0, 2, 6)
    along = rng.normal(0, 1.5, 5)
    y = 20 + effect[[int(e) for e in entry]] + along[[int(r) for r in row]] + rng.normal(0, 1, 40)
    return LinearModel(
        y,
        one_cell(y),
        (grouping("block", block),),
        (grouping("entry", entry), grouping("row", row)),
    )


def henderson(model: LinearModel, variances: Floats, residual: float) -> tuple[Floats, Floats]:
    """Effects and error covariance of all random units, by the mixed model equations in full."""
    x = np.hstack([np.ones((model.y.size, 1)), *(indicators(g)[:, 1:] for g in model.fixed)])
    z = np.hstack([indicators(g) for g in model.random])
    inverse = np.repeat(1 / variances, [g.count for g in model.random])
    left = np.block([[x.T @ x, x.T @ z], [z.T @ x, z.T @ z + residual * np.diag(inverse)]])
    right = np.concatenate([x.T @ model.y, z.T @ model.y])
    p = x.shape[1]
    solved = np.linalg.solve(left, right)
    return solved[p:], residual * np.linalg.inv(left)[p:, p:]


def test_robinsons_sires() -> None:
    # Robinson 1991, Statistical Science 6:15, section 2 (Henderson's example, from memory): herd
    # and sire of nine lactations, variance between sires a tenth of that within.
    herd = list("112223333")
    sire = list("ADBDDCCDD")
    y = np.array([110, 100, 110, 100, 100, 110, 110, 100, 100], dtype=float)
    model = LinearModel(y, one_cell(y), (grouping("herd", herd),), (grouping("sire", sire),))
    found = predictions_at(model, np.array([0.1]))
    assert found.effects == pytest.approx([0.40, 0.52, 0.76, -1.67], abs=0.006)
    assert found.fixed_part[[0, 2, 5]] == pytest.approx([105.64, 104.28, 105.46], abs=0.006)


def test_oats_ranking_is_as_reliable_as_published(published: Callable[[str], Published]) -> None:
    # Schmidt, Hartung, Bennewitz & Piepho 2019, Genetics 212:991, example code of that paper for
    # John & Williams' oats: Cullis' heritability 0.8091336.
    trial = published("oats_alpha")
    model = LinearModel(
        trial.y,
        one_cell(trial.y),
        (trial.grouping("replicate"),),
        (trial.grouping("variety"), trial.grouping("replicate", "block")),
    )
    found = predictions(model)
    assert found.reliability.mean() == pytest.approx(0.8091336, abs=2e-6)
    assert found.reliability.size == 24


def test_unequal_tables_agree_with_the_mixed_model_equations() -> None:
    model = uneven()
    found = predictions(model)
    effects, errors = henderson(model, found.variances, found.residual_variance)
    assert found.effects == pytest.approx(effects[:6], rel=1e-9)
    assert found.errors == pytest.approx(errors[:6, :6], rel=1e-9)
    lead = np.eye(6) - 1 / 6
    assert found.lead_errors == pytest.approx(np.diag(lead @ errors[:6, :6] @ lead), rel=1e-9)
    own, together = np.diag(errors)[:6], errors[:6, :6]
    apart = own[:, None] + own - 2 * together  # its diagonal is 0
    expected = 1 - apart.sum(axis=1) / 5 / (2 * found.variances[0])
    assert found.reliability == pytest.approx(expected, rel=1e-9)


def test_how_errors_move_with_the_variances() -> None:
    model = uneven()
    found = predictions(model)
    whole = np.concatenate([[found.residual_variance], found.variances])
    assert whole.min() > 0

    def lead_errors(at: Floats) -> Floats:
        # The predictor stays as it is; only what it is held against moves: by the envelope theorem
        # the same to first order as with the predictor that is best there.
        return predictions_at(model, at[1:] / at[0], float(at[0])).lead_errors

    for k in range(whole.size):
        step = np.zeros_like(whole)
        step[k] = 1e-5 * max(whole[k], 0.01)
        slope = (lead_errors(whole + step) - lead_errors(whole - step)) / (2 * step[k])
        assert found.slopes[:, k] == pytest.approx(slope, rel=1e-4, abs=1e-7)


def test_one_random_factor_agrees_with_statsmodels() -> None:
    model = uneven()
    alone = LinearModel(model.y, model.cells, model.fixed, model.random[:1])
    found = predictions(alone)
    x = pd.get_dummies(alone.fixed[0].codes, dtype=float)
    fit = sm.MixedLM(alone.y, x, groups=alone.random[0].codes).fit(reml=True, method="bfgs")
    assert found.residual_variance == pytest.approx(fit.scale, rel=1e-4)
    assert found.variances[0] == pytest.approx(float(fit.cov_re.iloc[0, 0]), rel=1e-3)
    theirs = [float(fit.random_effects[i].iloc[0]) for i in range(6)]
    assert found.effects == pytest.approx(theirs, abs=2e-3)


def test_degrees_of_freedom_of_one_balanced_variance() -> None:
    # Ten entries four times: a new residual added 1,000 times leaves nothing but its own 30.
    rng = np.random.default_rng(3)
    entry = [str(e) for e in range(10) for _ in range(4)]
    y = rng.normal(0, 1, 40) + np.repeat(rng.normal(0, 2, 10), 4)
    found = predictions(LinearModel(y, one_cell(y), (), (grouping("entry", entry),)))
    assert found.df(np.array([1e6, 0.0])) == pytest.approx(np.full(10, 30.0), rel=1e-4)


def test_entries_that_do_not_vary_have_no_ranking() -> None:
    y = np.array([1.0, 3, 2, 1, 3, 2, 2, 1, 3])
    found = predictions(LinearModel(y, one_cell(y), (), (grouping("entry", list("aaabbbccc")),)))
    assert isinstance(found, Predictions)
    assert found.variances[0] == 0.0
    assert found.effects == pytest.approx(np.zeros(3))
    assert found.reliability == pytest.approx(np.zeros(3))


def test_entries_grown_once_are_refused() -> None:
    y = np.array([1.0, 3, 2, 5])
    with pytest.raises(ComparisonRefused):
        predictions(LinearModel(y, one_cell(y), (), (grouping("entry", list("abcd")),)))
