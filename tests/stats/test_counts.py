"""The count model, which statsmodels fits, against the same model written out in numpy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.stats.by_hand import f_of_drop, poisson
from trials.model.trial import AppliedTo
from trials.stats.checks.count_opinion import count_opinion
from trials.stats.checks.counts import count_test
from trials.stats.design.plots import plots_of
from trials.stats.design.structure import structure_of
from trials.stats.design.table import Codes, Floats, Labels, PlotTable, Treatment
from trials.stats.what_was_tested import SecondOpinion, TermTest


def dummies(codes: Codes) -> Floats:
    return np.eye(int(np.max(codes)) + 1)[np.asarray(codes)]


def in_blocks(seed: int = 0, size: float = 6.0, slope: float = 0.15) -> tuple[Any, ...]:
    """Stems of 5 varieties in 4 blocks, over-dispersed, on 10 to 16 plants a plot."""
    rng = np.random.default_rng(seed)
    entry, block = np.tile(np.arange(5), 4), np.repeat(np.arange(4), 5)
    plants = rng.integers(10, 17, 20).astype(float)
    mean = plants * np.exp(2.0 + slope * entry + 0.1 * block)
    return entry, block, plants, rng.poisson(mean * rng.gamma(size, 1 / size, 20)).astype(float)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_blocks_and_exposure_agree_with_numpy(seed: int) -> None:
    entry, block, plants, counts = in_blocks(seed)
    effect, rest = dummies(entry)[:, 1:], dummies(block)
    found = count_test(counts, plants, effect, rest)
    F, p, dispersion = f_of_drop(counts, plants, effect, rest)
    assert found is not None
    assert (found.num_df, found.den_df) == (4, 12)
    assert [found.F, found.p] == pytest.approx([F, p], rel=1e-7)
    assert found.dispersion == pytest.approx(dispersion, rel=1e-8)
    assert found.dispersion > 2


def test_redundant_columns_change_nothing() -> None:
    entry, block, plants, counts = in_blocks()
    lean = count_test(counts, plants, dummies(entry)[:, 1:], dummies(block))
    fat = count_test(counts, plants, dummies(entry), np.hstack([np.ones((20, 1)), dummies(block)]))
    assert lean is not None
    assert fat is not None
    assert [fat.F, fat.p] == pytest.approx([lean.F, lean.p], rel=1e-9)


def test_a_variety_without_any_stems_is_no_obstacle() -> None:
    entry, block, plants, counts = in_blocks()
    counts[entry == 2] = 0.0
    found = count_test(counts, plants, dummies(entry)[:, 1:], dummies(block))
    assert found is not None
    # Its plots fit exactly, and the others are as if it had not been there.
    kept = entry != 2
    F, _, dispersion = f_of_drop(
        counts[kept], plants[kept], dummies(entry)[kept][:, [1, 3, 4]], dummies(block)[kept]
    )
    assert np.isfinite(F)
    assert found.dispersion * 12 == pytest.approx(dispersion * 9, rel=1e-6)


def test_no_stems_or_no_error_give_no_test() -> None:
    entry, block, plants, counts = in_blocks()
    assert count_test(0 * counts, plants, dummies(entry), dummies(block)) is None
    assert count_test(counts[:5], plants[:5], np.eye(5), np.ones((5, 1))) is None


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        count_test(np.array([-1.0, 2.0]), np.ones(2), np.eye(2), np.ones((2, 1)))
    with pytest.raises(ValueError, match="plants"):
        count_test(np.array([1.0, 2.0]), np.array([0.0, 2.0]), np.eye(2), np.ones((2, 1)))


def test_doubling_plants_and_stems_of_pure_counts_is_felt() -> None:
    # The rate is what is compared: more plants with their stems change no rate.
    entry, block, plants, counts = in_blocks()
    once = count_test(counts, plants, dummies(entry)[:, 1:], dummies(block))
    twice = count_test(2 * counts, 2 * plants, dummies(entry)[:, 1:], dummies(block))
    assert once is not None
    assert twice is not None
    assert [twice.F, twice.p] == pytest.approx([once.F, once.p], rel=1e-9)
    assert twice.dispersion == pytest.approx(2 * once.dispersion, rel=1e-9)


def opinion(
    counts: Floats,
    plants: Floats,
    treatments: list[tuple[str, Any, AppliedTo]],
    block: Any,
    tests: list[TermTest],
    alpha: float = 0.05,
) -> SecondOpinion | None:
    given = PlotTable(
        measure="stems per plant",
        unit="stems/plant",
        y=counts / plants,
        treatments=tuple(Treatment(Labels.of(name, v), on) for name, v, on in treatments),
        plot_names=tuple(f"P{i}" for i in range(len(counts))),
        block=Labels.of("block", block),
        plants=plants,
    )
    return count_opinion(structure_of(plots_of(given)), counts, plants, tests, alpha)


def test_the_opinion_names_its_dispersion_and_agrees_or_says_where_not() -> None:
    entry, block, plants, counts = in_blocks()
    F, p, dispersion = f_of_drop(counts, plants, dummies(entry)[:, 1:], dummies(block))
    variety = [("variety", entry, AppliedTo.PLOT)]
    found = opinion(counts, plants, variety, block, [TermTest("variety", 4, 12, F, p)])
    assert found is not None
    assert found.p[0][1] == pytest.approx(p, rel=1e-7)
    assert f"{dispersion:.2g} times the mean" in found.method
    assert found.note == ""
    assert found.agrees
    opposite = 0.5 if p <= 0.05 else 0.01
    turned = opinion(counts, plants, variety, block, [TermTest("variety", 4, 12, F, opposite)])
    assert turned is not None
    assert not turned.agrees
    assert "variety" in turned.note


def test_whole_plot_treatments_are_tested_on_totals_of_whole_plots() -> None:
    rng = np.random.default_rng(1)
    pinch, variety, block = (a.ravel() for a in np.meshgrid([0, 1], range(3), range(5)))
    plants = rng.integers(8, 13, 30).astype(float)
    swing = rng.gamma(4, 0.25, size=(2, 5))[pinch, block]
    counts = rng.poisson(plants * np.exp(1.5 + 0.2 * variety) * swing).astype(float)
    found = opinion(
        counts,
        plants,
        [("pinch", pinch, AppliedTo.WHOLE_PLOT), ("variety", variety, AppliedTo.PLOT)],
        block,
        [
            TermTest("pinch", 1, 4, 1.0, 0.4),
            TermTest("variety", 2, 16, 9.0, 0.01),
            TermTest("pinch:variety", 2, 16, 1.0, 0.4),
        ],
    )
    assert found is not None
    p = dict(found.p)
    whole = pinch * 5 + block
    totals, exposed = np.bincount(whole, counts), np.bincount(whole, plants)
    at, blocks = np.repeat([0, 1], 5), np.tile(np.arange(5), 2)
    _, expected, _ = f_of_drop(
        totals.astype(float), exposed.astype(float), dummies(at)[:, 1:], dummies(blocks)
    )
    assert p["pinch"] == pytest.approx(expected, rel=1e-7)
    # Inside whole plots these are the blocks, and the interaction is fitted beside the variety.
    v = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]])[variety]
    crossed = v * np.where(pinch == 0, 1.0, -1.0)[:, None]
    rest = np.hstack([dummies(whole), crossed])
    _, expected, _ = f_of_drop(counts, plants, v, rest)
    assert p["variety"] == pytest.approx(expected, rel=1e-6)


def test_over_seasons_totals_are_judged_against_their_swings() -> None:
    rng = np.random.default_rng(5)
    season, block, variety = (x.ravel() for x in np.indices((3, 4, 5)))
    plants = rng.integers(8, 13, 60).astype(float)
    swing = rng.gamma(9, 1 / 9, (3, 5))[season, variety]
    counts = rng.poisson(plants * np.exp(1.5 + 0.3 * variety) * swing).astype(float)
    given = PlotTable(
        measure="stems",
        unit="stems/plant",
        y=counts / plants,
        treatments=(Treatment(Labels.of("variety", variety)),),
        plot_names=tuple(f"P{i}" for i in range(60)),
        block=Labels.of("block", block),
        season=Labels.of("season", season),
        plants=plants,
    )
    structure = structure_of(plots_of(given))
    tests = [TermTest("variety", 4, 8, 9.0, 0.01)]
    found = count_opinion(structure, counts, plants, tests, 0.05)
    assert found is not None
    at = season * 5 + variety
    totals = np.bincount(at, counts).astype(float)
    exposed = np.bincount(at, plants).astype(float)
    of_season, of_variety = np.divmod(np.arange(15), 5)
    _, expected, dispersion = f_of_drop(
        totals, exposed, dummies(of_variety)[:, 1:], dummies(of_season)
    )
    assert dict(found.p)["variety"] == pytest.approx(expected, rel=1e-7)
    assert dispersion > 2  # the swings, not the luck of single plots


def test_whole_plots_that_lost_a_plot_are_not_counted_together() -> None:
    rng = np.random.default_rng(2)
    pinch, variety, block = (a.ravel() for a in np.meshgrid([0, 1], range(3), range(5)))
    kept = np.arange(30) != 7
    counts = rng.poisson(60.0, 29).astype(float)
    found = opinion(
        counts,
        np.full(29, 10.0),
        [
            ("pinch", pinch[kept], AppliedTo.WHOLE_PLOT),
            ("variety", variety[kept], AppliedTo.PLOT),
        ],
        block[kept],
        [TermTest("pinch", 1, 4, 1.0, 0.4), TermTest("variety", 2, 15, 1.0, 0.4)],
    )
    assert found is not None
    assert dict(found.p).keys() == {"variety"}


def test_spread_that_outgrows_the_mean_turns_to_its_square() -> None:
    rng = np.random.default_rng(9)
    entry, block = np.tile(np.arange(6), 6), np.repeat(np.arange(6), 6)
    plants = np.full(36, 12.0)
    mean = plants * np.exp(0.2 + 0.8 * entry)
    counts = np.round(mean * rng.gamma(3, 1 / 3, 36))
    effect, rest = dummies(entry)[:, 1:], dummies(block)
    found = count_test(counts, plants, effect, rest)
    assert found is not None
    assert found.square == pytest.approx(1 / 3, abs=0.15)  # gamma of shape 3 has variance 1/3

    both = np.hstack([rest, effect])
    deviance, fitted = poisson(counts, both, plants, found.square)
    spread = fitted + found.square * fitted**2
    assert float(np.sum((counts - fitted) ** 2 / spread)) == pytest.approx(25, rel=1e-6)
    expected = (poisson(counts, rest, plants, found.square)[0] - deviance) / 5
    assert [found.F, found.p] == pytest.approx([expected, stats.f.sf(expected, 5, 25)], rel=1e-6)

    steady = count_test(rng.poisson(mean).astype(float), plants, effect, rest)
    assert steady is not None
    assert steady.square == 0.0


def test_the_opinion_says_how_the_variance_grows() -> None:
    rng = np.random.default_rng(9)
    entry, block = np.tile(np.arange(6), 6), np.repeat(np.arange(6), 6)
    plants = np.full(36, 12.0)
    counts = np.round(plants * np.exp(0.2 + 0.8 * entry) * rng.gamma(3, 1 / 3, 36))
    variety = [("variety", entry, AppliedTo.PLOT)]
    found = opinion(counts, plants, variety, block, [TermTest("variety", 5, 25, 9.0, 1e-5)])
    assert found is not None
    assert "times its square" in found.method


@pytest.mark.slow
def test_terms_of_a_null_trial_err_as_often_as_promised() -> None:
    rng = np.random.default_rng(14)
    entry, block = np.tile(np.arange(5), 4), np.repeat(np.arange(4), 5)
    plants = rng.integers(10, 17, 20).astype(float)
    trials, wrong = 600, 0
    for _ in range(trials):
        mean = plants * 6.0 * np.exp(0.1 * block) * rng.gamma(20, 1 / 20, 20)
        counts = rng.poisson(mean).astype(float)
        tested = count_test(counts, plants, dummies(entry)[:, 1:], dummies(block))
        assert tested is not None
        wrong += tested.p <= 0.1
    assert wrong / trials == pytest.approx(0.1, abs=3 * np.sqrt(0.09 / trials))
