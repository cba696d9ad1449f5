"""The verdicts err as often as they say: a small part of the calibration, with a fixed seed."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from math import sqrt
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from trials.stats import Question, compare, families
from trials.stats.distributions.quadrature import t_two_sided
from trials.stats.fit.analysis import analyse, fit_of, joint_test

pytestmark = pytest.mark.slow

BENCH = Path(__file__).parents[1] / "benchmarks" / "bench_calibration.py"


@pytest.fixture(scope="module")
def calibration() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bench_calibration", BENCH)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_calibration"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("place", [1, 5, 6], ids=["blocks", "split-plot", "split-plot with loss"])
def test_families_err_at_five_per_cent_and_intervals_hold(
    calibration: ModuleType, place: int
) -> None:
    trials = 400
    found = calibration.simulate(place, trials, seed=7)
    error = sqrt(0.05 * 0.95 / trials)
    for count in (found.joint, found.pairs, found.check):
        assert abs(count / trials - 0.05) < 3 * error
    for covered in found.covered:
        assert abs(covered / trials - 0.95) < 3 * error
    assert found.kept_best / trials > 0.95 - 3 * error
    assert found.plants_as_replicates / trials > 0.15


@pytest.mark.parametrize("lost", [1, 4])
def test_a_whole_plot_test_errs_as_often_with_plots_lost(
    calibration: ModuleType, lost: int
) -> None:
    """36 plots whose whole plots do not differ: held at zero it erred at 0.07 % with 4 lost."""
    trials = 400
    found = calibration.simulate_losses(calibration.LOSSES.index((0, 0.0, lost)), trials, seed=7)
    assert found.below_zero / trials > 0.4
    for count in (*found.joint, trials - found.covered):
        assert abs(count / trials - 0.05) < 3 * sqrt(0.05 * 0.95 / trials)
    for count in (found.pairs, found.check):
        assert abs(count / found.asked - 0.05) < 3 * sqrt(0.05 * 0.95 / found.asked)


def test_a_comparison_gives_the_figures_that_were_counted(calibration: ModuleType) -> None:
    layout = calibration.LAYOUTS[6]()  # a split-plot with a plot lost
    y = np.where(np.isnan(layout.table.y), np.nan, np.random.default_rng(5).normal(9.0, 1.0, 48))
    table = replace(layout.table, y=y)
    structure = analyse(layout.table).structure
    (term,) = [term for term in structure.terms if term.name == layout.term]
    fit = fit_of(structure.model(y[structure.rows]))
    test = joint_test(structure, fit, term)
    assert test is not None
    pairs = families.all_pairs(
        term.weights @ fit.means,
        term.weights @ fit.cov @ term.weights.T,
        lambda contrasts: fit.df.of_contrasts(contrasts @ term.weights),
        0.05,
    )
    whole = compare(table, Question())
    assert [t.p for t in whole.tests if t.term == layout.term] == pytest.approx([test.p])
    assert [pair.p_adjusted for pair in whole.all_pairs if pair.term == layout.term] == (
        pytest.approx(pairs.p_adjusted.tolist())
    )


def test_plants_of_one_bed_cry_wolf() -> None:
    """20 plants on each half of one bed, plot SD half the plant SD.

    Independent of the program: the halves differ by chance with variance 2 (plot + plant / 20),
    and the pooled test sees 2 plant / 20 only, so it errs in P(|t| sqrt(0.1 / 0.6) > 2.024).
    """
    lot = np.random.default_rng(11)
    halves = lot.normal(0, 0.5, (4000, 2, 1)) + lot.normal(0, 1.0, (4000, 2, 20))
    pooled = halves.var(axis=2, ddof=1).mean(axis=1)
    t = np.abs(halves[:, 0].mean(axis=1) - halves[:, 1].mean(axis=1)) / np.sqrt(pooled * 2 / 20)
    wolf = float((t_two_sided(t, np.full(4000, 38.0)) < 0.05).mean())
    expected = float(t_two_sided(np.array([2.0244 / sqrt(6.0)]), np.array([38.0]))[0])
    assert wolf == pytest.approx(expected, abs=0.03)
    assert wolf == pytest.approx(0.41, abs=0.03)
